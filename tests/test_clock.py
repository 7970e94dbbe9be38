"""The one clock: fixed unless it's set, and never guessed."""

import pytest

from audit.clock import stamp
from audit.model import Refusal


def test_without_a_setting_it_is_the_first_day_that_a_zip_file_can_hold(monkeypatch):
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    assert stamp().isoformat() == "1980-01-01T00:00:00+00:00"


def test_it_can_be_set(monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1000000000")  # 11,574 days of 86,400 s, 1 h, 46 min and 40 s
    assert stamp().isoformat() == "2001-09-09T01:46:40+00:00"


@pytest.mark.parametrize("text", ["soon", "-5", "1", "1e9", "9" * 30])
def test_what_is_no_date_is_refused(monkeypatch, text):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", text)
    with pytest.raises(Refusal, match="SOURCE_DATE_EPOCH"):
        stamp()
