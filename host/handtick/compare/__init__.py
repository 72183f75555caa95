"""Compares what a machine did with what it should have done, and says what kind of fault would do that."""

from handtick.compare.diagnose import Diagnosis, Finding, diagnose
from handtick.compare.trace import Row, Trace, trace_of

__all__ = ["Diagnosis", "Finding", "Row", "Trace", "diagnose", "trace_of"]
