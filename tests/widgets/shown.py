"""What an explorer puts before its reader."""

from stripdown.widgets.explorer_view import View


def said(view: View) -> list[str]:
    """All of its markup."""
    texts = (view.head, view.told, view.title, view.looks, view.curves, view.behind, view.page)
    return [html.value for html in (*texts, *(row.track for row in view.rows))]
