"""How the pages look: colours, type, and text that stays text."""
