"""A person at the pages as Streamlit's own tester runs them, without a server."""

import json
import re
from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

import page_link
from streamlit.components.v2 import manifest_scanner
from streamlit.testing.v1 import AppTest, app_test, local_script_runner

from filtration.base.places import pages_folder

WAIT_S = 120
ANSWER = "which_filter"

# What the server does once the tester does anew in each session, which takes longer than most of our pages: look for
# components in all that is installed, and compile the scripts.
manifest_scanner.scan_component_manifests = cache(manifest_scanner.scan_component_manifests)
app_test.ScriptCache = cache(app_test.ScriptCache)
local_script_runner.ScriptCache = cache(local_script_runner.ScriptCache)


class Session(dict[str, Any]):
    """A session without a page: its keys are attributes too, as Streamlit's are."""

    __getattr__ = dict.__getitem__
    __setattr__ = dict.__setitem__


def first_page(wait_s: float = WAIT_S) -> AppTest:
    """Return the pages, not yet run."""
    return AppTest.from_file(str(pages_folder() / "app.py"), default_timeout=wait_s)


def at(page: AppTest, name: str) -> AppTest:
    """Go to a page of the session."""
    page.switch_page(f"screens/{name}.py").run()
    assert not page.exception
    return page


def opened(page: AppTest, text: str, name: str = ANSWER) -> AppTest:
    """Open the link of a study, then one of the pages."""
    word = page_link.packed([text])
    assert word is not None
    page.query_params["study"] = word
    page.run()
    assert not page.exception
    return at(page, name)


def seen(text: str) -> str:
    """Return Markdown as it is read."""
    return re.sub(r"\\(.)", r"\1", text.replace("\u2060", ""))


def text_on(page: AppTest) -> str:
    groups = (page.title, page.header, page.caption, page.markdown, page.info, page.warning, page.error)
    return "\n".join(seen(part.value) for group in groups for part in group)


def figures_on(page: AppTest) -> dict[str, str]:
    return {metric.label: seen(metric.value) for metric in page.metric}


def charts_on(page: AppTest) -> dict[str, dict[str, Any]]:
    """Return the charts of a page by what they say."""
    charts = [json.loads(chart.proto.spec) for chart in page.get("vega_lite_chart")]
    return {chart["description"]: chart for chart in charts}


def field(page: AppTest, place: str) -> Any:
    """Return the widget of a table and key."""
    widgets = [*page.number_input, *page.text_input, *page.selectbox, *page.checkbox, *page.multiselect]
    return next(widget for widget in widgets if f".{place}." in str(widget.key))


_UNSAID = re.compile(
    "id|.*_id|.*hash|.*config|.*data|spec|.*url|.*_content|.*_path|component_name|isolate_styles|theme|hide_anchor|element_type"
    "|tag|raw_value|set_value|label_visibility|max_chars|max_upload_size_mb|form|weight|ignore_rerun|accept_new_options|is_form_submitter|row_height"
    "|wrap|name|column|tab_container|allow_empty|edition|editing_mode|styler|border|popover|.*bytes"
)
"""Fields of an element that nobody reads, or that stand elsewhere."""


def outline(node: Any) -> Iterator[str]:
    """Yield what stands on a page from top to bottom, a line a text or widget with all it says; of charts the title."""
    for child in node.children.values():
        proto = getattr(child, "proto", None)
        given = {each.name: value for each, value in proto.ListFields()} if hasattr(proto, "ListFields") else {}
        said = {name: _plain(value) for name, value in given.items() if not _UNSAID.fullmatch(name)}
        if child.type == "text_input" and "default" in said:
            said["holds"] = said.pop("default")
        if child.type == "vega_lite_chart":
            said = {"title": json.loads(given["spec"])["title"]["text"]}
        if child.type in {"dataframe", "arrow_data_frame"}:
            said["columns"] = ", ".join(f"{name}" for name in child.value.columns)
            said |= {"looks": given["columns"]} if given.get("columns", "{}") != "{}" else {}
        if any(said.values()) and child.type not in {"flex_container", "bidi_component", "progress"}:
            yield f"{child.type}: {'; '.join(f'{name} {what}' for name, what in said.items() if what)}".replace(
                ": body ", ": "
            )
        if hasattr(child, "children"):
            yield from outline(child)


def _plain(value: Any) -> str:
    if isinstance(value, str):
        return seen(value)
    if hasattr(value, "ListFields"):
        return _plain([each for _, each in value.ListFields()])
    return ", ".join(map(_plain, value)) if isinstance(value, Iterable) else str(value)
