"""Trials of many farms taken together, on one machine or on a cluster.

The law of this package: each trial is first compared by itself, with the figures that ``compare``
gives it, and only its adjusted means with their covariances go on to be taken together. Farms are
known by code, one partition (a season at a farm) is one piece of work that may be done twice
without harm, and nothing is published that rests on too few farms.
"""

from __future__ import annotations
