"""Days written with dots against the date patterns of every locale."""

import re

import pytest
from babel import Locale, localedata

pytestmark = pytest.mark.outside


def test_no_locale_writes_the_month_first_where_dots_part_a_day_from_its_year():
    # Unicode CLDR, the short and medium date patterns of all locales, as babel carries them. The letters of a
    # month ('MMM') are no figures: such a date is read by the name.
    dotted = set()
    for name in localedata.locale_identifiers():
        formats = Locale.parse(name).date_formats
        patterns = [re.sub(r"'[^']*'", "", formats[width].pattern) for width in ("short", "medium")]
        dotted |= {pattern for pattern in patterns if re.fullmatch(r"\W*[dML]{1,2}\. ?[dML]{1,2}\. ?y+\W*", pattern)}
    assert len(dotted) > 5
    assert {pattern for pattern in dotted if not re.match(r"\W*d", pattern)} == set()
