"""The rise of each dose at each point of a window, compiled."""

from numba import njit

from gramrise.estimate.array_types import Array, Whole


@njit(cache=True)
def fill_responses(
    columns: Array, first_column: int, shown: Array, scaled: Array, minutes: Whole, dose_minutes: Whole,
    dose_form: Whole, shifts: Whole,
) -> None:  # fmt: skip
    """Write the response per unit of factor into columns [K, B, T, P], one column a shift, from `first_column` on.

    shown   [K, forms, M] by minute; scaled [K, B, N] grams of each dose as they act
    minutes [B, T]; dose_minutes, dose_form [B, N]; shifts [S] ascending, minutes by which all doses are moved
    """
    candidates, series, times, _ = columns.shape
    longest = shown.shape[2] - 1
    for k in range(candidates):
        for b in range(series):
            for t in range(times):
                row = columns[k, b, t]
                row[first_column : first_column + shifts.size] = 0.0
                for d in range(dose_minutes.shape[1]):
                    grams, form = scaled[k, b, d], dose_form[b, d]
                    if grams <= 0.0:
                        continue
                    since = minutes[b, t] - dose_minutes[b, d]
                    for s in range(shifts.size):
                        if since <= shifts[s]:
                            break
                        row[first_column + s] += grams * shown[k, form, min(since - shifts[s], longest)]
