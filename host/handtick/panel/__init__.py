"""The panel: one window for an evening. It draws what a session hears and sends commands; it holds no logic."""
