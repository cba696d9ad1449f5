"""Results as sentences, tables and documents: written once, for every output."""
