"""The CSV layout of histories: what is read, and what is refused where and in which words."""

from __future__ import annotations

from datetime import date

import pytest

from barwright.ingest.history_csv import MOST_ROWS, UNTOLD_U_M_S, read_history
from barwright.ingest.refusals import Refusal

TODAY = date(2026, 3, 1)


def read(text: str):
    return read_history(text.encode(), TODAY)


def refused(text: str) -> Refusal:
    with pytest.raises(Refusal) as caught:
        read(text)
    return caught.value


def test_a_whole_row():
    (row,) = read("date,lift,set,load[kg],reps,missed,velocity[m/s],velocity_u[m/s],note\n"
                  "2026-02-01,back_squat,2,102.5,3,1,0.62,0.02,\"slow, tired\"\n")  # fmt: skip
    assert (row.kind, row.day, row.lift, row.number) == ("set", date(2026, 2, 1), "back_squat", 2)
    assert (row.load_kg, row.made, row.missed, row.velocity, row.u) == (102.5, 3, 1, 0.62, 0.02)
    assert (row.row, row.line, row.note) == (0, 2, "slow, tired")


def test_what_is_left_out_is_one_made_rep_of_a_set_without_velocity():
    (row,) = read("lift,date,load\nsnatch,2026-02-01,70\n")
    assert (row.kind, row.made, row.missed, row.velocity, row.u, row.number) == ("set", 1, 0, None, None, None)


def test_a_velocity_without_u_gets_the_one_that_is_told_of_in_the_docs():
    (row,) = read("lift,date,load,velocity\nsnatch,2026-02-01,70,2.0\n")
    assert row.u == UNTOLD_U_M_S == 0.05


def test_pounds_and_centimetres_a_second():
    (row,) = read("lift,date,load[[lb_av]],velocity[cm/s],velocity_u[cm/s]\nsnatch,2026-02-01,100,200,2\n")
    # the pound is 0.45359237 kg, exactly (international yard and pound agreement, 1959)
    assert row.load_kg == pytest.approx(45.359237)
    assert (row.velocity, row.u) == (pytest.approx(2.0), pytest.approx(0.02))


@pytest.mark.parametrize(
    "text", ["lift;date;load\nsnatch;2026-02-01;72,5\n", "lift\tdate\tload\nsnatch\t2026-02-01\t72.5\n"]
)
def test_semicolons_with_decimal_commas_and_tabs(text):
    assert read(text)[0].load_kg == 72.5


def test_what_spreadsheets_add():
    rows = read("\ufeffDate, Lift ,Load [kg]\r\n2026-02-01,Back Squat,100\r\n\r\n2026-02-02,back-squat,101\r\n,,\r\n")
    assert [(row.lift, row.load_kg, row.line) for row in rows] == [("back_squat", 100.0, 2), ("back_squat", 101.0, 4)]


@pytest.mark.parametrize(
    ("changes", "column", "words"),
    [
        ({"load": "-5"}, "load", "above 0 and at most 600 kg is right"),
        ({"load": "0"}, "load", "above 0 and at most 600 kg"),
        ({"load": "601"}, "load", "above 0 and at most 600 kg"),
        ({"load": "100 kg"}, "load", "its unit stands in the header"),
        ({"load": "82,5"}, "load", "a plain number such as 82.5"),
        ({"load": "1e2"}, "load", "a plain number"),
        ({"load": "nan"}, "load", "a plain number"),
        ({"load": ""}, "load", "`load` is empty"),
        ({"velocity": "6.1"}, "velocity", "above 0 and at most 6 m/s is right"),
        ({"velocity": "-0.4"}, "velocity", "above 0 and at most 6 m/s"),
        ({"date": "2026-03-02"}, "date", "yet to come; today is 2026-03-01"),
        ({"date": "2026-02-30"}, "date", "a date looks like 2026-03-01"),
        ({"date": "01.02.2026"}, "date", "a date looks like 2026-03-01"),
        ({"date": "20260201"}, "date", "a date looks like 2026-03-01"),
        ({"date": "1912-02-01"}, "date", "from 1950-01-01 on"),
        ({"date": ""}, "date", "`date` is empty"),
        ({"lift": "bicycle"}, "lift", "GET /v1/lifts lists them all"),
        ({"reps": "-1"}, "reps", "a whole number from 0 to 100"),
        ({"reps": "2.5"}, "reps", "a whole number"),
        ({"reps": "0"}, "velocity", "no rep was made"),
        ({"kind": "test"}, "kind", "`set` or `max` is right"),
        ({"kind": "max", "velocity": ""}, "reps", "A maximum is one made rep"),
        ({"kind": "max", "reps": ""}, "velocity", "A maximum has no velocity here"),
        ({"note": "x" * 501}, "note", "at most 500 characters"),
        ({"set": "0"}, "set", "a whole number from 1 to 1000"),
    ],
)  # fmt: skip
def test_a_value_that_cannot_be_used_is_pointed_to(changes, column, words):
    row = {"date": "2026-02-01", "lift": "snatch", "kind": "set", "load": "70", "reps": "3", "velocity": "2.0",
           "set": "1", "note": ""}  # fmt: skip
    good = ",".join(row.values())
    header = ",".join(row)
    values = ",".join(f'"{value}"' for value in {**row, **changes, "set": changes.get("set", "2")}.values())
    refusal = refused(f"{header}\n{good}\n{values}\n")
    assert refusal.code == "bad-history"
    assert (f"/rows/1/{column}", True) in [(pointer, words in detail) for pointer, detail in refusal.more]
    assert all("Line 3" in detail for _, detail in refusal.more)
    assert "nothing of it was kept" in refusal.detail


def test_every_bad_value_is_told_at_once():
    refusal = refused("date,lift,load\n2026-02-01,snatch,-1\n2026-02-01,snatch,70\n2027-01-01,nothing,700\n")
    assert [pointer for pointer, _ in refusal.more] == ["/rows/0/load", "/rows/2/date", "/rows/2/lift", "/rows/2/load"]
    assert "4 values of the file" in refusal.detail


@pytest.mark.parametrize(
    ("text", "code", "pointer", "words"),
    [
        ("", "bad-history", None, "The file is empty"),
        ("date,lift,load\n", "bad-history", "/rows", "no rows"),
        ("date,lift\n2026-02-01,snatch\n", "bad-history", "/columns", "`load` is missing"),
        ("date,lift,weight\n2026-02-01,snatch,1\n", "bad-history", "/columns/2", "'weight' is not a column"),
        ("date,lift,load[kg],load[[lb_av]]\n2026-02-01,snatch,1,2\n", "bad-history", "/columns/3", "in one unit"),
        ("date,lift,load[stone]\n2026-02-01,snatch,1\n", "unknown-unit", "/columns/2", "`kg`, `[lb_av]`"),
        ("date,lift,load[lb]\n2026-02-01,snatch,1\n", "unknown-unit", "/columns/2", "Write `[lb_av]`"),
        ("date[d],lift,load\n2026-02-01,snatch,1\n", "bad-history", "/columns/0", "has no unit"),
        ('date,lift,load\n2026-02-01,"snatch,1\n', "unreadable", None, "is not CSV"),
    ],
)
def test_a_file_that_cannot_be_used(text, code, pointer, words):
    refusal = refused(text)
    assert (refusal.code, refusal.pointer) == (code, pointer)
    assert words in refusal.detail


def test_bytes_that_are_no_text():
    with pytest.raises(Refusal) as caught:
        read_history(b"date,lift,load\n\xff\xfe", TODAY)
    assert caught.value.code == "unreadable"


def test_a_row_with_too_many_values():
    refusal = refused("date,lift,load\n2026-02-01,snatch,70,3\n")
    assert refusal.more == (("/rows/0", "Line 2 has 4 values and the header 3."),)


def test_too_many_rows():
    assert "the limit" in refused("date,lift,load\n" + "2026-02-01,snatch,70\n" * (MOST_ROWS + 1)).detail


def test_the_same_row_twice_is_refused_unless_the_sets_are_numbered():
    twice = "2026-02-01,snatch,70,2\n" * 2
    refusal = refused("date,lift,load,reps\n" + twice)
    assert [pointer for pointer, _ in refusal.more] == ["/rows/1"]
    assert "number the sets in a column `set`" in refusal.detail
    rows = read("date,lift,load,reps,set\n2026-02-01,snatch,70,2,1\n2026-02-01,snatch,70,2,2\n")
    assert [row.number for row in rows] == [1, 2]


def test_one_set_number_told_in_two_ways():
    refusal = refused("date,lift,load,set\n2026-02-01,snatch,70,1\n2026-02-01,snatch,75,1\n")
    assert [pointer for pointer, _ in refusal.more] == ["/rows/1/set"]


def test_a_maximum_twice():
    refusal = refused("date,lift,load,kind\n2026-02-01,snatch,70,max\n2026-02-01,snatch,70,max\n")
    assert [pointer for pointer, _ in refusal.more] == ["/rows/1"]
