"""Arithmetic on spans of tick numbers: pairs of a first and a last, both included."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

__all__ = ["Span", "merged", "span_text", "without"]

Span = tuple[int, int]


def merged(spans: Iterable[Span]) -> list[Span]:
    """Give the same ticks as spans in order that neither overlap nor touch; empty spans (last < first) vanish."""
    whole: list[Span] = []
    for first, last in sorted(span for span in spans if span[0] <= span[1]):
        if whole and first <= whole[-1][1] + 1:
            whole[-1] = (whole[-1][0], max(whole[-1][1], last))
        else:
            whole.append((first, last))
    return whole


def without(spans: Iterable[Span], taken: Iterable[Span]) -> Iterator[Span]:
    """Give what is left of `spans` when `taken` is cut out of it.

    Args:
        spans: In order, as `merged` gives them.
        taken: In order, as `merged` gives them.
    """
    rest = iter(taken)
    cut = next(rest, None)
    for start, last in spans:
        first = start
        while cut is not None and cut[0] <= last:
            if cut[1] >= first:
                if cut[0] > first:
                    yield first, cut[0] - 1
                first = cut[1] + 1
            if cut[1] > last:
                break
            cut = next(rest, None)
        if first <= last:
            yield first, last


def span_text(span: Span) -> str:
    """Give a span in words, such as `ticks 5 to 9 (5 ticks)`."""
    first, last = span
    return f"tick {first}" if first == last else f"ticks {first} to {last} ({last - first + 1} ticks)"
