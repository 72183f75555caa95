"""One clock for a whole class: who is there, who has the crank, what was called, and the page that shows it."""
