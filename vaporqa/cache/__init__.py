"""The cache: what a review of an unchanged folder said, kept under a key of everything that it hangs on.

::

    key = key_of(folder, shows, profiles, rules)   # sha256 over inputs, rules, options, versions; None: no answer kept
    find(key)                                      # the answer, or None
    keep(key, answer, read)                        # only where what was read is what the key was made of

Free of numpy, pyarrow, pydantic and YAML: an unchanged folder is answered from here. Nothing in it ever raises for the
sake of a cache that is not there, not ours, or broken: then a review simply runs.
"""

from vaporqa.cache.keys import Key, Shows, key_of
from vaporqa.cache.shelf import Answer, find, keep, lies_in

__all__ = ["Answer", "Key", "Shows", "find", "keep", "key_of", "lies_in"]
