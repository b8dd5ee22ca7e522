"""Figures in words, said in one place for screen and paper."""

from __future__ import annotations

__all__ = ["duration"]


def duration(seconds: float) -> str:
    """Return a time as hours, minutes and seconds.

    Parameters
    ----------
    seconds : float

    Returns
    -------
    str
        ``1:02:03``, or ``4:05`` under an hour.
    """
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
