"""Any accepted file → checked, frozen `Record`s, or all the `Fault`s that stand in the way."""

from stripdown.record.columns import Columns, read_columns
from stripdown.record.fault import Fault, RecordError
from stripdown.record.files import only, read, read_all, read_text
from stripdown.record.lines import holds_results, kind_of_line
from stripdown.record.lots import Lot, Lots
from stripdown.record.model import Record, Rejected
from stripdown.record.names import folder_name
from stripdown.record.parse import parse
from stripdown.record.write import as_mapping, canonical, digest, toml_of, write_toml

__all__ = [
    "Columns",
    "Fault",
    "Lot",
    "Lots",
    "Record",
    "RecordError",
    "Rejected",
    "as_mapping",
    "canonical",
    "digest",
    "folder_name",
    "holds_results",
    "kind_of_line",
    "only",
    "parse",
    "read",
    "read_all",
    "read_columns",
    "read_text",
    "toml_of",
    "write_toml",
]
