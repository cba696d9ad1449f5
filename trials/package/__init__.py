"""A trial as an open data package that others can read, written from a store and read back.

A package is a folder: ``datapackage.json`` by the Data Package standard, version 2
(https://datapackage.org), and CSV files in the plain form that ``load`` reads.
"""

from __future__ import annotations

from trials.package.licences import LICENCES
from trials.package.reading import Unpacked, unpack
from trials.package.writing import Packed, package, package_many

__all__ = ["LICENCES", "Packed", "Unpacked", "package", "package_many", "unpack"]
