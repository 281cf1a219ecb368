"""``python -m vaporqa.rulebook.schemas``: write the shipped JSON Schemas anew."""

from vaporqa.rulebook.schemas import write_schemas

if __name__ == "__main__":
    write_schemas()
