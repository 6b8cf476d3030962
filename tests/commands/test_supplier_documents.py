"""`plan --replaces`, `replan --replaces`, `answer` and `prices`: an order and what follows it."""

from __future__ import annotations

import csv
import json
from decimal import Decimal
from pathlib import Path

import pytest

from optimiser.commands.main import run
from optimiser.reading import read_plan, read_purchase_order, read_record
from tests.builders.order_document import read
from tests.builders.small_plan import small_project
from tests.builders.supplier_documents import order_response, quotation


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a project, its plan in `one`, and the supplier's answer to it."""
    folder = tmp_path_factory.mktemp("site")
    value = small_project().model_dump(mode="json", by_alias=True)
    (folder / "project.json").write_text(json.dumps(value))
    assert run(["plan", str(folder / "project.json"), "--out", str(folder / "one")]) == 0
    (folder / "answer.xml").write_bytes(order_response(to="PO-17"))
    return folder


def wider(site: Path, by_mm: int) -> Path:
    value = json.loads((site / "project.json").read_text())
    for gap in value["gaps"]:
        gap["gap_mm"] += by_mm
    path = site / f"wider-{by_mm}.json"
    path.write_text(json.dumps(value))
    return path


def test_a_plan_that_replaces_an_order_is_its_next_revision(site: Path) -> None:
    first = read_purchase_order(site / "one" / "purchase-order.json")
    told = ["plan", str(wider(site, 40)), "--out", str(site / "two")]
    assert run([*told, "--replaces", str(site / "one" / "purchase-order.json")]) == 0
    second = read_purchase_order(site / "two" / "purchase-order.json")
    assert (second.document, second.revision) == ("PO-17-R2", 2)
    assert second.replaces == first.as_replaced
    document = read((site / "two" / "order.ubl.xml").read_bytes())
    assert document.tag.endswith("OrderChange")
    with (site / "two" / "order.csv").open(newline="") as file:
        assert {row["replaces"] for row in csv.DictReader(file)} == {"PO-17"}


def test_an_answer_is_written_onto_the_record_and_the_job_is_planned_on_from_it(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order = str(site / "one" / "purchase-order.json")
    record = site / "record.jsonl"
    answer = ["answer", str(site / "answer.xml"), "--order", order]
    assert run(answer) == 0
    printed = capsys.readouterr()
    assert len(printed.out.splitlines()) == 4
    assert "OrderResponse OR-11 of 2027-01-13: 4 events" in printed.err
    assert run([*answer, "--out", str(record)]) == 0
    assert run([*answer, "--record", str(record), "--out", str(record)]) == 0
    assert "0 events" in capsys.readouterr().err
    assert len(read_record(record).events) == 4
    told = [
        "replan",
        str(site / "one" / "plan.json"),
        "--record",
        str(record),
        "--survey",
        str(wider(site, 60)),
    ]
    assert run([*told, "--out", str(site / "on-top")]) == 0
    on_top = read_purchase_order(site / "on-top" / "purchase-order.json")
    assert on_top.ordered_besides["B-120"] == {"L01": 4}
    assert on_top.document == f"PO-17-S{on_top.issued_on:%Y%m%d}"
    assert run([*told, "--out", str(site / "next"), "--replaces", order]) == 0
    whole = read_purchase_order(site / "next" / "purchase-order.json")
    plan = read_plan(site / "next" / "plan.json")
    first = read_purchase_order(site / "one" / "purchase-order.json")
    assert whole.document == "PO-17-R2"
    assert whole.subtotal == first.subtotal + plan.order.total  # type: ignore[union-attr]


def test_an_order_that_is_not_on_record_cannot_be_gone_on_from(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (site / "empty.jsonl").write_text("")
    told = ["replan", str(site / "one" / "plan.json"), "--record", str(site / "empty.jsonl")]
    out = site / "nowhere"
    assert run([*told, "--replaces", str(site / "one" / "purchase-order.json"), "--out", str(out)]) == 1
    assert (
        "B-120: 4 were ordered, 0 are on record as ordered; record what was ordered"
        in capsys.readouterr().err
    )
    assert not out.exists()


def test_prices_of_a_quotation_go_into_a_project(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (site / "quotation.xml").write_bytes(
        quotation([{"code": "B-120", "price": "199.00"}, {"code": "Z-1", "price": "5.00"}])
    )
    told = [
        "prices",
        str(site / "project.json"),
        "--offer",
        str(site / "quotation.xml"),
        "--on",
        "2027-02-03",
    ]
    assert run([*told, "--out", str(site / "priced.json")]) == 0
    printed = capsys.readouterr()
    assert "B-120: price 212.00 to 199.00" in printed.out
    assert "left aside: Z-1: no product of the project" in printed.err
    assert run(["plan", str(site / "priced.json"), "--json"]) == 0
    lines = json.loads(capsys.readouterr().out)["order"]["lines"]
    assert {line["price"] for line in lines if line["code"] == "B-120"} == {"199.00"}


@pytest.mark.parametrize(
    ("told", "code", "fault"),
    [
        (["answer", "answer.xml", "--order", "project.json"], 2, "project.json: is no order that was sent"),
        (["answer", "project.json", "--order", "one/purchase-order.json"], 2, "project.json: is no XML"),
        (["answer", "answer.xml", "--order", "one/purchase-order.json", "--received-on", "soon"], 2, "soon is no day"),
        (["prices", "project.json", "--offer", "answer.xml"], 2, "holds <OrderResponse>, not a UBL Quotation"),
        (["plan", "project.json", "--replaces", "project.json"], 2, "is no order that was sent"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_told(
    site: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    told: list[str],
    code: int,
    fault: str,
) -> None:
    monkeypatch.chdir(site)
    assert run(told) == code
    assert fault in " ".join(capsys.readouterr().err.split())


OFFERS = (
    "supplier,currency,code,price,per_pack,lead_days\r\n"
    "Northern Wool,AUD,B-120,199.00,4,10\r\n"
    "Northern Wool,AUD,K-110,70.00,25,5\r\n"
    "Slow Boards,AUD,B-120,1.00,4,900\r\n"
)


def test_suppliers_stand_side_by_side_with_the_cheapest_split(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (site / "offers.csv").write_text(OFFERS)
    told = ["suppliers", str(site / "one" / "plan.json"), "--offers", str(site / "offers.csv")]
    assert run([*told, "--on", "2027-01-11", "--out", str(site / "side")]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "no split of these offers costs less: proved" in out
    assert "Slow Boards alone: offers no K-110, A-1, T-1" in out
    assert "B-120 from Slow Boards: not in time for 2027-02-22" in out
    with (site / "side" / "suppliers.csv").open(newline="") as file:
        rows = {(row["code"], row["supplier"]): row for row in csv.DictReader(file)}
    northern = rows["B-120", "Northern Wool"]
    assert (northern["packs"], northern["amount"], northern["bought"], northern["more"]) == (
        "1", "199.00", "1", "0.00",
    )  # fmt: skip
    brackets = rows["K-110", "Northern Wool"]
    assert (brackets["more"], brackets["fall"], brackets["fall_share"]) == ("9.50", "9.50", "0.1358")
    with (site / "side" / "split.csv").open(newline="") as file:
        bought = list(csv.DictReader(file))
    assert {row["supplier"] for row in bought if row["code"] == "B-120"} == {"Northern Wool"}
    assert all(Decimal(row["amount"]) == int(row["packs"]) * Decimal(row["price"]) for row in bought)


def test_the_order_to_one_of_several_suppliers(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    value = json.loads((site / "project.json").read_text())
    for product in value["products"]:
        if product["kind"] == "bracket":
            product["supplier"] = "Edge Fixings"
    (site / "two-suppliers.json").write_text(json.dumps(value))
    told = ["plan", str(site / "two-suppliers.json"), "--out", str(site / "fixings"), "--supplier"]
    assert run([*told, "Edge Fixings"]) == 0
    with (site / "fixings" / "order.csv").open(newline="") as file:
        assert {(row["supplier"], row["kind"]) for row in csv.DictReader(file)} == {
            ("Edge Fixings", "bracket")
        }
    capsys.readouterr()
    assert run([*told, "Nobody"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "it sells no product of the project; there is Supplier (invented), Edge Fixings" in said


def test_offers_that_cannot_bring_it_leave_with_1(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = ["suppliers", str(site / "one" / "plan.json"), "--offers", str(site / "offers.csv")]
    assert run([*told, "--on", "2027-02-21"]) == 1
    assert "not in time for 2027-02-22" in capsys.readouterr().err
