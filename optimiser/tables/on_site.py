"""What board stands on site on a day, before anything of that day's delivery is cut."""

from __future__ import annotations

from optimiser.tables.columns import Column, Columns

ON_SITE: Columns = (
    Column("day", "Day", "date", what="a day on which boards arrive or are used"),
    Column("levels", "Level", "texts", 11, joined=" ", what="the levels that use boards on that day"),
    Column("face_m2", "Board face", "area", 11, "m2", what="face area of all board on site",
           value=lambda there: there.face_mm2 / 1e6),
    Column("floor_m2", "Floor in stacks", "area", 11, "m2", what="the floor that it takes; none without a stack",
           value=lambda there: None if there.floor_mm2 is None else there.floor_mm2 / 1e6),
    Column("weight_kg", "Weight", "number", 10, "kg", what="of all board on site; none where one is not known"),
    Column("floor_load_kg_m2", "Floor loading", "number", 11, "kg/m2", what="of the heaviest full stack"),
    Column("floor_load_kept", "Floor carries it", "flag", 10, what="none where no floor_load_kg_m2 is given"),
)  # fmt: skip
