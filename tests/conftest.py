"""What every test shares: one thread, so that sums repeat, and a frozen clock that keeps autumn's repeated hour."""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import datetime as dt

import freezegun.api as fa

# freezegun builds its datetimes without `fold`, so in the repeated hour of autumn the local clock is an hour early.


def _keep(d):
    return fa.FakeDatetime(d.year, d.month, d.day, d.hour, d.minute, d.second, d.microsecond, d.tzinfo, fold=d.fold)


_plain_now = fa.FakeDatetime.now.__func__


def _now(cls, tz=None):
    if tz is None:
        return _plain_now(cls, None)
    return _keep(fa.real_datetime.astimezone(cls._time_to_freeze().replace(tzinfo=dt.UTC), tz))


fa.datetime_to_fakedatetime = _keep
fa.FakeDatetime.now = classmethod(_now)
