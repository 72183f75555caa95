"""The board's side of handtick: decisions in pure modules, pins at the rim."""
