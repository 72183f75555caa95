"""What the board and the host say to each other; both import these very files."""
