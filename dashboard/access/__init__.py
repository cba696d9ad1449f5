"""Who gets to the pages: the gate, sign-in, connections; nothing of the farm passes before it."""
