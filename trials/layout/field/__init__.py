"""Where plots are in the field: beds, the order along them, and plot codes."""
