from typing import Any

import httpx
import pytest
from tests.store.tables import add_shelf, add_table
from tests.web.running import Running

from twobowls.tasting.asking import asked_for
from twobowls.tasting.setup import Setup
from twobowls.tasting.tasting import Tasting
from twobowls.web.plan_form import default_values


def form(ids: tuple[str, ...], **typed: Any) -> dict[str, Any]:
    chosen = {"coffee": list(ids), "round": ["hot", "warm", "cool"]}
    return {**default_values("Sunday"), **chosen, **typed}


def made(server: Running, answer: httpx.Response) -> Tasting:
    assert answer.status_code == 303, answer.text
    return server.store.tasting(answer.headers["location"].split("/")[2])


def test_choosing_coffees_is_enough(server: Running, host: httpx.Client) -> None:
    ids = add_shelf(server.store)
    page = host.get("/tastings/new").text
    for name in ("Alder Gate", "Bellwether", "Copper Lane"):
        assert name in page
    tasting = made(server, host.post("/tastings/new", data=form(ids)))
    setup = tasting.setup
    assert setup.coffee_ids == ids
    asked = asked_for("all", setup.rounds)
    assert setup == Setup(name="Sunday", coffee_ids=ids, repeats=setup.repeats, asked=asked)
    assert len(setup.repeats) == 1
    assert setup.repeats[0] in ids
    assert len(tasting.plan.bowls) == 4
    assert tasting.state == "planned"


def test_everything_can_be_chosen(server: Running, host: httpx.Client) -> None:
    ids = add_shelf(server.store)
    typed = {
        "name": "Rainy day",
        "seats": "7",
        "lots": "0",
        "twice": [ids[1], ids[2]],
        "round": ["dry", "hot", "cool"],
        "volume_ml": "150",
        "rim_mm": "78,5",
        "ratio_g_per_l": "60",
        "water_c": "94",
        "room_c": "23",
        "kettle_ml": "900",
        "kettle_w": "1500",
        "purge_g": "3",
        "pour_gap_s": "25",
        "first_sip_c": "62",
        "target_hot": "61",
        "most_per_flight": "6",
        "host_tastes": "1",
        "names_in_files": "1",
    }
    setup = made(server, host.post("/tastings/new", data=form(ids, **typed))).setup
    assert (setup.name, setup.seats, setup.repeats) == ("Rainy day", 7, (ids[1], ids[2]))
    assert [(each.key, each.target_c) for each in setup.rounds] == [
        ("dry", None),
        ("hot", 61.0),
        ("cool", 40.0),
    ]
    assert (setup.vessel.volume_ml, setup.vessel.rim_mm) == (150.0, 78.5)
    assert (setup.water_c, setup.room_c, setup.first_sip_c) == (94.0, 23.0, 62.0)
    assert (setup.kettle_ml, setup.kettle_w) == (900.0, 1500.0)
    assert (setup.purge_g, setup.pour_gap_s) == (3.0, 25.0)
    assert setup.host_tastes
    assert setup.names_in_files


@pytest.mark.parametrize(
    ("field", "typed", "text"),
    [
        ("name", "", "The tasting has no name. Give it one"),
        ("seats", "0", "&#39;0&#39; cannot be used. Give a whole number from 1 to 300."),
        ("seats", "many", "&#39;many&#39; cannot be used. Give a whole number from 1 to 300."),
        ("lots", "4", "4 is more than the coffees left to draw from: at most 3 here."),
        ("water_c", "hot", "&#39;hot&#39; is not a number. Give 80 to 100 °C."),
        ("water_c", "120", "120 is out of range. Give 80 to 100 °C."),
        ("volume_ml", "", "&#39;&#39; is not a number. Give 40 to 500 mL."),
        ("most_per_flight", "1", "&#39;1&#39; cannot be used. Give a whole number from 2 to 12."),
        ("first_sip_c", "nan", "&#39;nan&#39; is not a number. Give 45 to 71 °C."),
        ("pour_gap_s", "110", "take 330 s to pour"),
        ("rim_mm", "40", "which is no bowl. Measure the rim"),
    ],
)
def test_an_error_stands_beside_its_field_and_nothing_is_lost(
    server: Running, host: httpx.Client, field: str, typed: str, text: str
) -> None:
    ids = add_shelf(server.store)
    before = server.store.tastings()
    given = {"twice": [], "host_tastes": "1", "kettle_ml": "1234", field: typed}
    answer = host.post("/tastings/new", data=form(ids, **given))
    assert answer.status_code == 400
    assert text in answer.text
    assert f'id="{field}-error"' in answer.text
    assert f'name="{field}"' in answer.text
    assert f'value="{typed}"' in answer.text
    assert 'value="1234"' in answer.text
    assert answer.text.count(" checked") == 3 + 3 + 1  # coffees, rounds, the host tastes
    assert server.store.tastings() == before


@pytest.mark.parametrize(
    ("typed", "text"),
    [
        ({"coffee": []}, "To compare, choose at least two coffees; no coffee is chosen so far."),
        ({"round": ["dry"]}, "No round is tasted. Choose at least one of Hot, Warm and Cool."),
    ],
    ids=["coffees", "rounds"],
)
def test_what_is_ticked_must_make_a_tasting(
    server: Running, host: httpx.Client, typed: dict[str, Any], text: str
) -> None:
    answer = host.post("/tastings/new", data=form(add_shelf(server.store), **typed))
    assert answer.status_code == 400
    assert text in answer.text


def test_a_coffee_of_nowhere_is_not_taken(server: Running, host: httpx.Client) -> None:
    ids = add_shelf(server.store)
    answer = host.post("/tastings/new", data=form((ids[0], "nowhere")))
    assert answer.status_code == 400
    assert "one coffee is chosen so far" in answer.text


def test_a_tasting_can_be_planned_like_another(
    server: Running, host: httpx.Client, planned: Tasting
) -> None:
    page = host.get(f"/tastings/new?like={planned.id}").text
    assert 'value="Test table"' in page
    assert (
        page.count(" checked") == 3 + 1 + 2 + 2 + 2 * 7
    )  # coffees, the one twice, rounds, what is asked in each


def test_the_sheet_says_it_all(server: Running, host: httpx.Client, planned: Tasting) -> None:
    page = host.get(f"/tastings/{planned.id}/sheet").text
    for bowl in planned.plan.bowls:
        assert bowl.code in page
    for text in (
        "11.0 g of coffee, 200 mL of water at 93 °C",
        "0.80 L in 1 filling of the kettle",
        "27.0 g",  # two bowls of 11 g and a purge of 5 g
        "Break the crust of bowl",
        "Places in the order",
        "A bowl comes down to 60 °C between",
        "EFSA",
    ):
        assert text in page


def test_which_coffee_is_where_is_folded_away(
    server: Running, host: httpx.Client, planned: Tasting
) -> None:
    page = host.get(f"/tastings/{planned.id}/sheet").text
    assert "<summary>Show which coffee is in which bowl</summary>" in page
    assert '<details class="secret">' in page
    assert page.count("(hidden repeat)") == 2


def test_a_host_who_tastes_is_not_told(server: Running, host: httpx.Client) -> None:
    tasting = add_table(server.store, host_tastes=True)
    page = host.get(f"/tastings/{tasting.id}/sheet").text
    assert "Show which coffee is in which bowl" not in page
    assert "under each bowl" in page
    assert "look under the bowls and type what you find there" in page


def test_the_home_page_leads_on(server: Running, host: httpx.Client, planned: Tasting) -> None:
    page = host.get("/").text
    assert "Test table" in page
    assert f"/tastings/{planned.id}/bench" in page
    answer = host.get(f"/tastings/{planned.id}")
    assert answer.headers["location"] == f"/tastings/{planned.id}/bench"


def test_the_form_proposes_what_fits_and_the_sheet_says_what_it_costs(
    server: Running, host: httpx.Client
) -> None:
    ids = add_shelf(server.store)
    page = host.get("/tastings/new").text
    assert 'name="asking" value="fits" checked' in page
    answer = host.post("/tastings/new", data=form(ids, lots="3", asking="fits", walk="proposed"))
    tasting = made(server, answer)
    assert tasting.setup.asked == asked_for("classic", tasting.setup.rounds)
    sheet = host.get(f"/tastings/{tasting.id}/sheet").text
    assert "Hot: aroma and verdict; Warm: acidity," in sheet
    assert "72 taps, 30 sips, 99 mg of caffeine if every sip is swallowed" in sheet
    everything = (
        '<th scope="row">Everything</th><td class="number">18</td><td class="number">165</td>'
    )
    assert everything in sheet


def test_own_choices_are_stored_and_shown_again(server: Running, host: httpx.Client) -> None:
    ids = add_shelf(server.store)
    own = {"asked_hot": ["verdict"], "asked_warm": ["body", "acidity"], "asked_cool": ["verdict"]}
    typed = form(ids, asking="own", walk="bowls", **own)
    tasting = made(server, host.post("/tastings/new", data=typed))
    assert tasting.setup.asked == (("verdict",), ("body", "acidity"), ("verdict",))
    assert tasting.setup.walk == "bowls"
    page = host.get(f"/tastings/new?like={tasting.id}").text
    assert 'id="asked_warm_body" name="asked_warm" value="body" checked' in page
    assert 'id="asked_warm_verdict" name="asked_warm" value="verdict" checked' not in page


@pytest.mark.parametrize(
    ("own", "message"),
    [
        ({}, "Nothing is ticked. Tick what each round asks."),
        ({"asked_hot": ["verdict"]}, "Warm asks nothing."),
        (
            {"asked_hot": ["crunch"], "asked_warm": ["body"], "asked_cool": ["body"]},
            "Hot cannot ask for",
        ),
    ],
)
def test_an_own_choice_that_asks_nothing_is_told(
    server: Running, host: httpx.Client, own: dict[str, list[str]], message: str
) -> None:
    ids = add_shelf(server.store)
    answer = host.post("/tastings/new", data=form(ids, asking="own", **own))
    assert answer.status_code == 400
    assert message in answer.text
