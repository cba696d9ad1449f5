"""From a plan to plots on the beds: who grows where, by lot, and what that will be able to tell.

The law of this folder: values in, values out. The same plan and seed give the same layout on any
machine, and nothing here reads a file, a clock or a database.
"""
