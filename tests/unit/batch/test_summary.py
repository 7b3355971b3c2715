"""Counts of a whole batch, its tables and its page."""

import csv
import io
from html.parser import HTMLParser

import pytest
from pyarrow import parquet

from trajplan.batch import Outcome, summarize
from trajplan.batch._page import summary_page
from trajplan.batch._rows import CASE_COLUMNS
from trajplan.batch._tables import write_tables
from trajplan.cautions import CAUTIONS
from trajplan.files import SCREW_COLUMNS

EVIL = '<script src="http://x.test/a.js">&"\''


def screw(kind="HA4.5", length=30.0, tilt=3.0, washer=None):
    row = dict.fromkeys(("case", *SCREW_COLUMNS))
    return row | {"kind": kind, "length": length, "tilt": tilt, "washer": washer,
                  "leaves_bone": False, "verdict": "pass"}  # fmt: skip


def done(name, verdict, *screws, rules=None, seconds=1.0, wires=""):
    row = dict.fromkeys(CASE_COLUMNS, "") | {
        "case": name, "status": "done", "verdict": verdict, "wires": wires, "screws": len(screws),
        "fail": " ".join(rule for rule, counts in (rules or {}).items() if "fail" in counts),
    }  # fmt: skip
    return Outcome(name, "done", seconds=seconds, row=row, screws=list(screws), rules=rules or {})


def broken(name, error):
    return Outcome(name, "failed", error, row={"case": name, "status": "failed", "error": error})


@pytest.fixture
def outcomes():
    return [
        done("a", "pass", screw(), screw(length=32.0, tilt=2.0), rules={"tilt": {"pass": 2}}),
        done("b/c", "fail", screw(washer="13.0", tilt=None), seconds=9.0, wires="W1.6 W1.6",
             rules={"tilt": {"fail": 1}, "slip": {"caution": 1}}),
        broken(EVIL, f"no {EVIL}"),
        Outcome("last", "not run", row={"case": "last", "status": "not run"}),
        done("d", "caution", screw("HB6.5", None), rules={"slip": {"caution": 2}}),
    ]  # fmt: skip


def test_counts(outcomes):
    summary = summarize(outcomes)
    assert (summary.cases, summary.done, summary.not_run) == (5, 3, 1)
    assert summary.failed == {EVIL: f"no {EVIL}"}
    assert summary.failing == {"b/c": "tilt"}
    assert summary.verdicts == {"fail": 1, "caution": 1, "unknown": 0, "pass": 1}
    assert summary.lengths == {30.0: 2, 32.0: 1}
    assert summary.tilts == {0: 0, 2: 3}  # 2.0 and 3.0 stand in the class from 2 to 4
    assert [slow.id for slow in summary.slowest] == ["b/c", "a", "d"]
    assert summary.seconds == 11.0


def test_rules_that_fail_most_stand_first(outcomes):
    rules = summarize(outcomes).rules
    assert list(rules) == ["tilt", "slip"]
    assert rules["tilt"] == {"fail": 1, "caution": 0, "unknown": 0, "pass": 2}
    assert rules["slip"]["caution"] == 3


def test_a_rule_names_the_cases_in_which_it_fails(outcomes):
    assert summarize(outcomes).where == {"tilt": ("b/c",)}
    many = [done(f"c{i}", "fail", rules={"slip": {"fail": 1}}) for i in range(13)]
    page = summary_page(summarize(many))
    row = page[page.index("<td>slip</td>") :].partition("</tr>")[0]
    assert row.count('<a href="cases/c') == 10
    assert "and 3 more" in row


def test_the_tray_holds_what_all_cases_together_need(outcomes):
    assert summarize(outcomes).tray == {
        "HA4.5 x 30 mm": 2, "HA4.5 x 32 mm": 1, "HB6.5, length not known": 1,
        "washer 13.0": 1, "wire W1.6": 2,
    }  # fmt: skip


def test_the_order_in_which_cases_were_done_changes_nothing(outcomes):
    one, other = summarize(outcomes).plain(), summarize(outcomes[::-1]).plain()
    assert {**one, "slowest": 0} == {**other, "slowest": 0}


class Page(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.open, self.text = set(), [], [], ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        self.attributes += attributes
        if tag not in {"meta", "br"}:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += f" {data}"


def test_the_page_asks_nobody_for_anything_and_escapes_every_text(outcomes):
    page = Page(summary_page(summarize(outcomes), ["cases.csv"]))
    assert page.open == []
    assert not page.tags & {"script", "img", "link", "iframe", "object", "form", "base"}
    names = {name for name, _ in page.attributes}
    assert not {name for name in names if name.startswith("on")} | names & {"src", "srcset"}
    links = [value for name, value in page.attributes if name == "href"]
    assert "cases/b/c/plan.txt" in links
    assert all("//" not in link and not link.startswith("/") for link in links)
    assert any(
        "default-src 'none'" in value for name, value in page.attributes if name == "content"
    )
    assert "url(" not in page.text
    assert EVIL in page.text


def test_the_page_tells_the_truth(outcomes):
    text = " ".join(Page(summary_page(summarize(outcomes))).text.split())
    assert "Batch of 5 cases" in text
    assert "3 done, 1 could not be worked on, 1 not run" in text
    assert "1 case could not be worked on" in text
    assert "Cases in which a rule fails case rules that fail b/c ( plan ) tilt" in text
    for caution in CAUTIONS:
        assert caution in text


def test_the_page_of_a_batch_without_results():
    page = Page(summary_page(summarize([broken("a", "no")])))
    assert "Batch of 1 case " in page.text
    assert page.open == []


@pytest.mark.parametrize(
    "one", [lambda name: broken(name, "no"), lambda name: done(name, "fail", screw())]
)
def test_many_failures_are_named_in_part(one):
    text = Page(summary_page(summarize([one(f"f{i}") for i in range(300)]))).text
    assert "and 100 more" in text
    assert (" f199 " in text, " f200 " in text) == (True, False)


def test_every_case_in_which_a_rule_fails_leads_to_its_report():
    page = Page(summary_page(summarize([done(f"f{i}", "fail", screw()) for i in range(20)])))
    links = {value for name, value in page.attributes if name == "href"}
    assert {f"cases/f{i}/plan.txt" for i in range(20)} <= links


def test_tables(outcomes, tmp_path):
    files = write_tables(tmp_path, outcomes)
    assert [file.name for file in files] == [
        "cases.csv", "cases.parquet", "screws.csv", "screws.parquet",
    ]  # fmt: skip
    cases, screws = (
        list(csv.DictReader(io.StringIO((tmp_path / name).read_text(), newline="")))
        for name in ("cases.csv", "screws.csv")
    )
    assert [row["case"] for row in cases] == ["a", "b/c", EVIL, "last", "d"]
    assert cases[2]["error"] == f"no {EVIL}"
    assert [row["length"] for row in screws] == ["30.0", "32.0", "30.0", ""]


def test_without_the_extra_there_is_csv_alone(outcomes, tmp_path, monkeypatch):
    monkeypatch.setattr("trajplan.batch._tables.find_spec", lambda _: None)
    assert [file.suffix for file in write_tables(tmp_path, outcomes)] == [".csv", ".csv"]


def test_both_kinds_of_table_hold_the_same(outcomes, tmp_path):
    write_tables(tmp_path, outcomes)
    for name in ("cases", "screws"):
        text = (tmp_path / f"{name}.csv").read_text()
        plain = list(csv.DictReader(io.StringIO(text, newline="")))
        rows = parquet.read_table(tmp_path / f"{name}.parquet").to_pylist()
        assert [{k: "" if v is None else str(v) for k, v in row.items()} for row in rows] == plain


def test_columns_have_the_same_type_whatever_they_hold(outcomes, tmp_path):
    write_tables(tmp_path, outcomes)
    full = {n: parquet.read_schema(tmp_path / f"{n}.parquet") for n in ("cases", "screws")}
    write_tables(tmp_path, [broken("a", "no")])
    for name, schema in full.items():
        assert parquet.read_schema(tmp_path / f"{name}.parquet") == schema
