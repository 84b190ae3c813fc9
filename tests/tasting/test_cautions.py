from twobowls.tasting.cautions import CAUTIONS


def test_every_caution_is_short_and_has_a_source() -> None:
    assert [each.key for each in CAUTIONS] == ["heat", "spoon", "caffeine", "spitting", "allergens"]
    for each in CAUTIONS:
        assert each.text.endswith(".")
        assert len(each.text.split()) < 75
        assert each.source


def test_the_first_sip_tells_of_trade_practice_and_the_warning() -> None:
    heat = CAUTIONS[0]
    for figure in ("60–62 °C", "71 °C", "65 °C"):
        assert figure in heat.text
    assert "IARC" in heat.source


def test_caffeine_has_the_agency_s_figures() -> None:
    caffeine = CAUTIONS[2]
    for figure in ("400 mg", "200 mg", "100 mg"):
        assert figure in caffeine.text
    assert "EFSA" in caffeine.source
