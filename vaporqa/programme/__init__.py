"""A programme of project folders: what each one comes to in numbers, pooled over all; and the workers that do it.

The folder is the unit, since equipment chains and batches live inside one. What a folder comes to is a `Summary`, and
pooling adds summaries in the order of the folders: how many workers there were leaves no trace.
"""

from vaporqa.programme.pooling import FEW, PooledDuplicates, PooledGroup, PooledRule, Programme, pool
from vaporqa.programme.summary import Duplicates, End, Group, Member, RuleCounts, Summary

__all__ = [
    "FEW", "Duplicates", "End", "Group", "Member", "PooledDuplicates", "PooledGroup", "PooledRule", "Programme",
    "RuleCounts", "Summary", "pool",
]  # fmt: skip
