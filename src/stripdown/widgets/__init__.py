"""The interactive workbooks: state machines that need no browser, and thin views on them."""
