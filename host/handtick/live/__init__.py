"""A bench driven from a thread of its own, and what is known of it: what the panel and the class show."""
