"""The pages of the crew at the bed: text is saved as it is typed and checked when recorded."""
