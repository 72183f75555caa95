"""Timing diagrams of logged ticks: laid out once, drawn as text or as SVG."""

from handtick.diagram.layout import Column, Picture, Segment, Track, lay_out
from handtick.diagram.svg import draw_svg
from handtick.diagram.text import draw_text

__all__ = ["Column", "Picture", "Segment", "Track", "draw_svg", "draw_text", "lay_out"]
