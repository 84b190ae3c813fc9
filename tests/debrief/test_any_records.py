"""Whatever a table sends and the server takes, there is a debrief, and every file of it."""

import json

from hypothesis import HealthCheck, given, settings
from tests.debrief.any_records import evenings

from twobowls.debrief.own import own_debrief
from twobowls.debrief.pick_counts import pick_rows
from twobowls.debrief.tables import Evening, mark_rows
from twobowls.debrief.tasting_debrief import debrief_of
from twobowls.interchange.debrief_json import debrief_dict
from twobowls.interchange.marks_csv import marks_csv
from twobowls.interchange.picks_csv import picks_csv
from twobowls.tasting.records import Mark, Pick
from twobowls.web.debrief_file import kept_page
from twobowls.web.debrief_view import tasting_view
from twobowls.web.private_view import private_view
from twobowls.web.templates import environment
from twobowls.web.wall_view import wall_marks

# What takes about 20 s before each commit; `make fuzz` draws more, and new ones.
EXAMPLES = max(120, settings().max_examples)


@settings(max_examples=EXAMPLES, suppress_health_check=[HealthCheck.too_slow])
@given(night=evenings())
def test_any_records_have_a_debrief(night: Evening) -> None:
    marks = [each for each in night.records if isinstance(each, Mark)]
    picks = [each for each in night.records if isinstance(each, Pick)]
    assert marks_csv(mark_rows(night)).count("\r\n") == 1 + len(marks)
    assert picks_csv(pick_rows(night)).count("\r\n") == 1 + len(picks)
    wall_marks(night.tasting, night.records, night.labels)
    whole = debrief_of(night)
    text = json.dumps(debrief_dict(whole), allow_nan=False)
    assert json.loads(text)["rows"] == len(whole.table)
    shown = tasting_view(whole)
    page = kept_page(shown)
    assert not shown.failures
    assert not any(shown.failed.values())
    assert "could not be drawn" not in page
    assert night.tasting.setup.name in page
    for seat in night.tasting.seats:
        view = private_view(whole, seat, own_debrief(whole, seat))
        environment().get_template("debrief_private.html").render(
            view=view, renewing=False, is_host=False, path="/", errors={}
        )
    assert not whole.failed
