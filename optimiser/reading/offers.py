"""Offers of suppliers: a UBL 2.1 Quotation or Catalogue, or a csv file with a row a price.

csv columns: supplier, reference, currency, code, price (of a pack), and where they are known from_packs, per_pack,
pack_name, lead_days, valid_from, valid_until, minimum_order, freight (of a delivery), freight_free_from.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from optimiser.errors.problems import CellError, Problem, ProblemList, UnusableInput
from optimiser.model.money import total_of
from optimiser.model.offer import Offer, OfferedPrice
from optimiser.reading.cells import currency, name, text
from optimiser.reading.columns import Column, TableSpec
from optimiser.reading.csv_folder import grid_of_csv
from optimiser.reading.dates import day
from optimiser.reading.documents import Row
from optimiser.reading.file_bytes import read_bytes
from optimiser.reading.grids import table_of_grid
from optimiser.reading.numbers import count, money
from optimiser.reading.ubl_document import LARGEST_BYTES, Part, root_of
from optimiser.tables.text import counted

SPEC = TableSpec(
    "offers",
    "a price that a supplier offers",
    (
        Column("supplier", text, True, "write who offers it"),
        Column("reference", text, False, "", ("quotation",)),
        Column("currency", currency, True, "write the currency, such as AUD"),
        Column("code", name, True, "write the product's code", ("product", "product_code")),
        Column("price", money, True, "write the price of one pack", ("price_per_pack", "pack_price")),
        Column("from_packs", count(1, 10**6)),
        Column("per_pack", count(1, 10**6)),
        Column("pack_name", text, False, "", ("pack",)),
        Column("lead_days", count(0, 1000, "a whole number of days"), False, "", ("lead_time_days",)),
        Column("valid_from", day),
        Column("valid_until", day),
        Column("minimum_order", money),
        Column("freight", money),
        Column("freight_free_from", money),
    ),
    required=True,
)
_OF_OFFER = ("minimum_order", "freight", "freight_free_from", "currency")
_DAYS_IN = {"DAY": 1, "WEE": 5}
"""UN/ECE Recommendation 20: day, week (of five working days)."""


def read_offers(path: Path) -> tuple[Offer, ...]:
    """The offers in a file: of several suppliers in a csv file, of one in a UBL document.

    Raises UnusableInput with every fault and its place.
    """
    return offers_of(read_bytes(path, LARGEST_BYTES), path.name)


def offers_of(data: bytes, file: str) -> tuple[Offer, ...]:
    """The offers in a file's bytes; `file` is its name, for messages. Raises UnusableInput."""
    if data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"<" or data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return (_of_ubl(data, file),)
    return _of_csv(data)


def _of_csv(data: bytes) -> tuple[Offer, ...]:
    problems = ProblemList()
    grid = grid_of_csv(data, "offers", problems)
    table = table_of_grid(grid, SPEC, "offers", problems)[0] if grid is not None else None
    rows: list[tuple[Row, dict[str, Any]]] = []
    for row in table or ():
        values: dict[str, Any] = {}
        whole = True
        for column in SPEC.columns:
            if column.name not in row.cells:
                if column.required and table is not None:
                    whole = False
                    problems.add(
                        table.places.problem(row.number, column.name, None, "is missing", column.mend)
                    )
                continue
            try:
                values[column.name] = column.parse(row.cells[column.name])
            except CellError as slip:
                whole = False
                assert table is not None
                said = row.cells[column.name]
                problems.add(table.places.problem(row.number, column.name, said, slip.message, slip.mend))
        if whole:
            rows.append((row, values))
    offers: dict[str, dict[str, Any]] = {}
    for row, values in rows:
        assert table is not None
        offer = offers.setdefault(values["supplier"], {"prices": [], "reference": ""})
        for column_name in _OF_OFFER:
            said, before = values.get(column_name), offer.get(column_name)
            if said is not None and before is not None and said != before:
                message = f"{values['supplier']} has {before} in another row"
                mend = "write the same in each row of a supplier, or once"
                problems.add(table.places.problem(row.number, column_name, said, message, mend))
            offer[column_name] = before if said is None else said
        offer["reference"] = offer["reference"] or values.get("reference", "")
        known = {key: value for key, value in values.items() if key in OfferedPrice.model_fields}
        try:
            offer["prices"].append((row, OfferedPrice(**known)))
        except ValidationError as error:
            message = error.errors()[0]["msg"].removeprefix("Value error, ")
            problems.add(table.places.problem(row.number, "valid_from", None, message, "correct it"))
    for offer in offers.values():
        _refuse_doubles(offer["prices"], table, problems)
    if table is not None and not offers and not problems:
        problems.add(Problem("offers", message="nothing is filled in", mend="write a row for each price"))
    problems.raise_if_any(("offers",))
    return tuple(
        Offer(supplier=supplier, **{**offer, "prices": tuple(price for _, price in offer["prices"])})
        for supplier, offer in offers.items()
    )


def _refuse_doubles(prices: Iterable[tuple[Row, OfferedPrice]], table: Any, problems: ProblemList) -> None:
    """A product has one price from a number of packs on, on any day."""
    seen: dict[tuple[str, int], list[OfferedPrice]] = {}
    for row, price in prices:
        for other in seen.setdefault((price.code, price.from_packs), []):
            if _overlap(price, other):
                packs = counted(price.from_packs, "pack")
                message = f"{price.code} has another price from {packs} on for the same days"
                problems.add(
                    table.places.problem(row.number, "price", price.price, message, "keep one of the two")
                )
                break
        seen[price.code, price.from_packs].append(price)


def _overlap(one: OfferedPrice, other: OfferedPrice) -> bool:
    begins = max(one.valid_from or date.min, other.valid_from or date.min)
    return begins <= min(one.valid_until or date.max, other.valid_until or date.max)


def _of_ubl(data: bytes, file: str) -> Offer:
    problems = ProblemList()
    kind, root = root_of(data, file, ("Quotation", "Catalogue"), problems)
    supplier = root.first_text(
        "cac:SellerSupplierParty/cac:Party/cac:PartyName/cbc:Name",
        "cac:ProviderParty/cac:PartyName/cbc:Name",
        "cac:SellerSupplierParty/cac:Party/cac:PartyLegalEntity/cbc:RegistrationName",
    )
    if not supplier:
        mend = "ask the supplier for a document that names it"
        root.fault("cac:PartyName/cbc:Name", None, "no supplier is named", mend)
    since, until = _period(root.part("cac:ValidityPeriod"))
    lines = list(root.parts("cac:QuotationLine" if kind == "Quotation" else "cac:CatalogueLine"))
    if not lines:
        root.fault("", None, "offers nothing", "ask the supplier for prices")
    money_of: set[str] = set()
    prices: list[OfferedPrice] = []
    for part in lines:
        found = _quoted(part) if kind == "Quotation" else _listed(part)
        for values, currency_of, place in found:
            money_of.add(currency_of)
            values.setdefault("valid_from", since)
            values.setdefault("valid_until", until)
            try:
                prices.append(OfferedPrice(**values))
            except ValidationError as error:
                message = error.errors()[0]["msg"].removeprefix("Value error, ")
                place.fault("", values.get("code"), message, "ask the supplier")
    money_of |= {root.first_text("cbc:DocumentCurrencyCode", "cbc:PricingCurrencyCode")}
    money_of -= {""}
    if len(money_of) != 1 and lines:
        said = ", ".join(sorted(money_of)) or None
        root.fault(
            "cbc:PricingCurrencyCode", said, "one currency is needed", "ask for prices in one currency"
        )
    charges = [
        amount
        for charge in root.parts("cac:AllowanceCharge")
        if charge.text("cbc:ChargeIndicator").lower() == "true"
        and (amount := charge.number("cbc:Amount")) is not None
    ]
    problems.raise_if_any()
    try:
        return Offer(
            supplier=supplier,
            reference=root.text("cbc:ID"),
            currency=money_of.pop(),
            freight=total_of(charges) if charges else None,
            prices=tuple(prices),
        )
    except ValidationError as error:
        message = error.errors()[0]["msg"].removeprefix("Value error, ")
        raise UnusableInput([Problem(file, message=message, mend="ask the supplier")]) from None


Quoted = tuple[dict[str, Any], str, Part]
"""A price's values, its currency, and where it stands."""


def _quoted(part: Part) -> Iterator[Quoted]:
    """The price of a QuotationLine; from how many packs on it holds stands in its MinimumQuantity."""
    item = part.part("cac:LineItem")
    if item is None:
        part.fault("", None, "has no LineItem", "ask the supplier for the line")
        return
    goods = item.part("cac:Item")
    values = _item(goods if goods is not None else item)
    values.update(_from_packs(item, "cbc:MinimumQuantity"))
    yield from _price(item, item.part("cac:Price"), values)


def _listed(part: Part) -> Iterator[Quoted]:
    """The prices of a CatalogueLine, one a RequiredItemLocationQuantity."""
    goods = part.part("cac:Item")
    base = _item(goods if goods is not None else part)
    since, until = _period(part.part("cac:LineValidityPeriod"))
    found = False
    for place in part.parts("cac:RequiredItemLocationQuantity"):
        found = True
        values = {**base, **_from_packs(place, "cbc:MinimumQuantity")}
        lead = place.number("cbc:LeadTimeMeasure")
        unit = place.attribute("cbc:LeadTimeMeasure", "unitCode")
        if lead is not None and unit not in _DAYS_IN:
            place.fault("cbc:LeadTimeMeasure/@unitCode", unit, "must be days or weeks", "ask for DAY or WEE")
        elif lead is not None and lead != int(lead):
            place.fault(
                "cbc:LeadTimeMeasure", lead, "is no whole number of days or weeks", "ask the supplier"
            )
        elif lead is not None:
            values["lead_days"] = int(lead) * _DAYS_IN[unit]
        price = place.part("cac:Price")
        own_since, own_until = _period(price.part("cac:ValidityPeriod") if price is not None else None)
        if begins := own_since or since:
            values["valid_from"] = begins
        if ends := own_until or until:
            values["valid_until"] = ends
        yield from _price(place, price, values)
    if not found:
        part.fault("cac:RequiredItemLocationQuantity", None, "has no price", "ask the supplier for it")


def _item(goods: Part) -> dict[str, Any]:
    """A product's code (the buyer's where it is given) and pack."""
    code = goods.first_text(
        "cac:BuyersItemIdentification/cbc:ID", "cac:SellersItemIdentification/cbc:ID", "cbc:Name"
    )
    if not code:
        goods.fault(
            "cac:SellersItemIdentification/cbc:ID", None, "is missing", "ask the supplier for the code"
        )
    values: dict[str, Any] = {"code": code or "?"}
    size = goods.number("cbc:PackSizeNumeric")
    if size is not None and size != int(size):
        goods.fault("cbc:PackSizeNumeric", size, "is no whole number in a pack", "ask the supplier")
    elif size is not None and size >= 1:
        values["per_pack"] = int(size)
    return values


def _from_packs(part: Part, path: str) -> Mapping[str, int]:
    number = part.number(path)
    if number is None or number < 1:
        return {}
    if number != int(number):
        part.fault(path, number, "is no whole number of packs", "ask the supplier")
        return {}
    return {"from_packs": int(number)}


def _price(place: Part, price: Part | None, values: dict[str, Any]) -> Iterator[Quoted]:
    """The price of one pack: PriceAmount for BaseQuantity packs."""
    amount = None if price is None else price.number("cbc:PriceAmount")
    if price is None or amount is None:
        place.fault("cac:Price/cbc:PriceAmount", None, "is missing", "ask the supplier for the price")
        return
    base = price.number("cbc:BaseQuantity")
    each = amount / base if base else amount
    if each * 100 != int(each * 100):
        said = f"{amount} for {base}"
        price.fault("cbc:PriceAmount", said, "is no whole number of cents a pack", "ask for a price a pack")
        return
    values["price"] = Decimal(each).quantize(Decimal("0.01"))
    yield values, price.attribute("cbc:PriceAmount", "currencyID"), price


def _period(part: Part | None) -> tuple[date | None, date | None]:
    if part is None:
        return None, None
    return part.day("cbc:StartDate"), part.day("cbc:EndDate")
