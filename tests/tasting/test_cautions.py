from twobowls.tasting.cautions import CAUTIONS


def test_every_caution_is_short_and_has_a_source() -> None:
    assert [each.key for each in CAUTIONS] == [
        "heat",
        "scald",
        "spoon",
        "caffeine",
        "spitting",
        "allergens",
    ]
    for each in CAUTIONS:
        assert each.text.endswith(".")
        assert len(each.text.split()) < 75
        assert each.source


def test_the_first_sip_tells_of_trade_practice_and_the_warning() -> None:
    heat = CAUTIONS[0]
    for figure in ("about 60 °C", "71 °C", "65 °C"):
        assert figure in heat.text
    assert "IARC" in heat.source


def test_caffeine_has_the_agency_s_figures() -> None:
    caffeine = next(each for each in CAUTIONS if each.key == "caffeine")
    for figure in ("400 mg", "200 mg", "100 mg", "3 mg a kg", "robusta about twice"):
        assert figure in caffeine.text
    assert "EFSA" in caffeine.source


def test_a_scald_is_cooled_and_some_are_shown_to_a_doctor() -> None:
    scald = next(each for each in CAUTIONS if each.key == "scald")
    for words in ("running tap water for 20 minutes", "a child, a blister or the face", "reaches"):
        assert words in scald.text


def test_nothing_hot_is_called_safe() -> None:
    assert not any("safe" in each.text for each in CAUTIONS)
