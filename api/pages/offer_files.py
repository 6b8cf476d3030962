"""Suppliers' offers that a form brings as files, or keeps from files that were sent before."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import Request
from pydantic import TypeAdapter, ValidationError
from starlette.datastructures import UploadFile

from api.context import AppContext
from api.limited_process import LimitReached, run_limited
from api.projects.reading import Unusable
from api.studies.scenario_making import read_offers_of
from optimiser.errors.problems import shown
from optimiser.model.offer import Offer

_MOST_FILES, _MOST_FIELDS = 6, 1000
_OFFERS: TypeAdapter[tuple[Offer, ...]] = TypeAdapter(tuple[Offer, ...])


async def fields_and_files(request: Request) -> tuple[dict[str, str], dict[str, bytes]]:
    """The fields of a form, and the contents of its files by their names."""
    async with request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS) as sent:
        fields = {name: value for name, value in sent.multi_items() if isinstance(value, str)}
        files = {
            (value.filename or f"offer-{number}"): await value.read()
            for number, (_, value) in enumerate(sent.multi_items())
            if isinstance(value, UploadFile) and value.size
        }
    return fields, files


def kept_text(offers: Sequence[Offer]) -> str:
    """Offers as JSON text for the hidden field `kept_offers`."""
    return json.dumps([offer.model_dump(mode="json", exclude_none=True) for offer in offers])


def offers_of(
    context: AppContext, fields: Mapping[str, str], files: Mapping[str, bytes]
) -> tuple[tuple[Offer, ...], list[str]]:
    """The offers that a form keeps and those of its files; and what is wrong with them. A file's offer takes the place
    of one of the same supplier; a field `drop_offer-N` leaves the kept one of that place, from 0, out."""
    try:
        kept = _OFFERS.validate_json(fields.get("kept_offers") or "[]")
    except ValidationError:
        return (), ["the offers that the form kept cannot be read: choose the files again"]
    dropped = {name.removeprefix("drop_offer-") for name in fields if name.startswith("drop_offer-")}
    kept = tuple(offer for number, offer in enumerate(kept) if str(number) not in dropped)
    if not files:
        return kept, []
    settings = context.settings
    try:
        text: str = run_limited(
            read_offers_of, dict(files), seconds=settings.parse_seconds, megabytes=settings.parse_megabytes
        )
    except Unusable as error:
        return kept, [_in_words(fault) for fault in error.faults]
    except LimitReached:
        return kept, ["offers: the files take too long to read; send fewer at a time"]
    read = _OFFERS.validate_json(text)
    again = {offer.supplier for offer in read}
    return (*(offer for offer in kept if offer.supplier not in again), *read), []


def _in_words(fault: Mapping[str, Any]) -> str:
    """'offers, row 2, price is 'cheap': must be an amount ...; write the number'."""
    value = "" if fault["value"] is None else f" is {shown(fault['value'])}"
    mend = f"; {fault['mend']}" if fault["mend"] else ""
    return f"{fault['place']}{value}: {fault['message']}{mend}"
