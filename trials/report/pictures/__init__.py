"""Results as pictures: values in, marks out, in the reader's units, for every page and file."""
