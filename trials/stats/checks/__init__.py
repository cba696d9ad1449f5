"""What other methods say of a verdict, and what a reader must know before believing it."""
