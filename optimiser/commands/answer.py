"""`barrier-orders answer`: a supplier's answer to an order, as events of the job's record."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.options import day_given


def answer(
    document: Annotated[
        Path,
        typer.Argument(
            metavar="DOCUMENT",
            help="What the supplier sent: a UBL 2.1 OrderResponse or DespatchAdvice; '-' reads stdin.",
        ),
    ],
    order: Annotated[
        Path,
        typer.Option(metavar="ORDER", help="The purchase-order.json of the order that it answers."),
    ],
    record: Annotated[
        Path | None,
        typer.Option(metavar="RECORD", help="What happened so far: .csv, or JSON lines."),
    ] = None,
    received_on: Annotated[
        str | None,
        typer.Option(
            metavar="DAY",
            help="The day on which what was sent arrived and was counted, such as 2027-03-01; the day that the"
            " document states when not given.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.jsonl",
            help="Write the record with the new events here, whole; else the new events go to stdout.",
        ),
    ] = None,
) -> None:
    """Turn a supplier's answer into events of the record.

    What is confirmed becomes 'ordered', what was sent 'delivered'; reading a document twice counts once. What is other
    than it was ordered (quantities, days, prices) is told on stderr.
    """
    from optimiser.model.record import Record
    from optimiser.reading import read_answer, read_purchase_order, read_record
    from optimiser.tables.text import counted
    from optimiser.writing.whole_file import write_whole

    told = read_record(record) if record else Record()
    found = read_answer(document, read_purchase_order(order), told, day_given(received_on, "--received-on"))
    after = told.with_events(found.events)
    new = after.events[len(told.events) :]
    if out is None:
        for event in new:
            typer.echo(event.model_dump_json(exclude_defaults=True))
    else:
        lines = [event.model_dump_json(exclude_defaults=True) for event in after.events]
        write_whole(out, "".join(f"{line}\n" for line in lines).encode())
    known = len(found.events) - len(new)
    typer.echo(
        f"{found.kind} {found.document} of {found.issued_on}: {counted(len(new), 'event')}"
        + (f", {known} known already" if known else "")
        + (f"; the record is in {out}" if out else ""),
        err=True,
    )
    for remark in found.remarks:
        typer.echo(f"  {remark}", err=True)
