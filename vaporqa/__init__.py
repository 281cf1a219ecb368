"""vaporqa: rule-based QA/QC validation of soil-gas field and laboratory data."""

__version__ = "0.1.0"
