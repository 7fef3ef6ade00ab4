import re
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitwell.base.errors import SidecarError
from sitwell.sort.packet import add_keywords, empty_packet, read_packet, set_rating

ATTRIBUTE_FORM = (
    "\ufeff<?xpacket begin='\ufeff' id='W5M0MpCehiHzreSzNTczkc9d'?>\n"
    "<!-- kept -->\n"
    "<x:xmpmeta xmlns:x='adobe:ns:meta/' x:xmptk='invented toolkit'>\n"
    "<r:RDF xmlns:r='http://www.w3.org/1999/02/22-rdf-syntax-ns#'>\n"
    "<r:Description   r:about='uuid:1&amp;2' xmlns:q='http://ns.adobe.com/xap/1.0/'\n"
    "  xmlns:odd='urn:odd' odd:Recipe='a&lt;b > c' q:Rating = \"2\" odd:After='x'/>\n"
    "<r:Description r:about='uuid:1&amp;2' xmlns:dc='http://purl.org/dc/elements/1.1/'>\n"
    "<dc:subject><r:Bag>\n<r:li>old &amp; <![CDATA[<new>]]></r:li></r:Bag></dc:subject>\n"
    "</r:Description></r:RDF></x:xmpmeta>\n" + " " * 200 + "\n<?xpacket end='w'?>"
).encode()

ELEMENT_FORM = (
    b"<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF "
    b"xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'><rdf:Description rdf:about='' "
    b"xmlns:xmp='http://ns.adobe.com/xap/1.0/'><xmp:Rating>4</xmp:Rating></rdf:Description>"
    b"</rdf:RDF></x:xmpmeta>"
)


def test_an_attribute_rating_changes_in_place_and_not_a_byte_besides():
    changed = set_rating(ATTRIBUTE_FORM, 5)
    note = changed[changed.index(b"<rdf:Description") : changed.index(b"</r:RDF>")]
    assert changed.replace(note, b"") == ATTRIBUTE_FORM.replace(b'"2"', b'"5"')
    assert b'rdf:about="uuid:1&amp;2"' in note
    assert read_packet(changed).rating == 5


def test_an_element_rating_stays_an_element():
    changed = set_rating(ELEMENT_FORM, -1)
    assert b"<xmp:Rating>-1</xmp:Rating>" in changed
    assert changed.count(b":Rating>-1<") == 2  # theirs and our note
    assert read_packet(changed).our_rating == -1


def test_keywords_join_the_list_under_its_own_prefix():
    changed = add_keywords(ATTRIBUTE_FORM, ["old & <new>", "put forward", "put forward"])
    assert changed == ATTRIBUTE_FORM.replace(b"</r:Bag>", b"<r:li>put forward</r:li></r:Bag>")
    assert read_packet(changed).keywords == ("old & <new>", "put forward")


def test_writing_the_same_again_changes_nothing():
    once = add_keywords(set_rating(empty_packet(), 3), ["a", "b"])
    assert add_keywords(set_rating(once, 3), ["b", "a"]) == once


@pytest.mark.parametrize("empty", [b"<r:RDF x:y='' xmlns:x='u'/>", b"<r:RDF\n/>"])
def test_a_list_or_block_written_closed_is_opened(empty):
    root = b"<a xmlns:r='http://www.w3.org/1999/02/22-rdf-syntax-ns#'>" + empty + b"</a>"
    assert read_packet(set_rating(root, 1)).rating == 1


def test_an_empty_rating_element_and_an_empty_bag_are_filled():
    hollow = ELEMENT_FORM.replace(
        b"<xmp:Rating>4</xmp:Rating>",
        b"<xmp:Rating/><dc:subject xmlns:dc='http://purl.org/dc/elements/1.1/'><rdf:Bag />"
        b"</dc:subject>",
    )
    says = read_packet(add_keywords(set_rating(hollow, 2), ["x"]))
    assert (says.rating, says.keywords) == (2, ("x",))


def test_a_rating_inside_another_structure_does_not_count():
    nested = ELEMENT_FORM.replace(
        b"<xmp:Rating>4</xmp:Rating>",
        b"<odd:was xmlns:odd='urn:o'><rdf:Description><xmp:Rating>4</xmp:Rating>"
        b"</rdf:Description></odd:was>",
    )
    assert read_packet(nested).rating is None
    changed = set_rating(nested, 1)
    assert b"<xmp:Rating>4</xmp:Rating>" in changed
    assert read_packet(changed).rating == 1


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "can't be read"),
        (b"<a>", "can't be read"),
        (b"<a/>", "There is no XMP in x.xmp; move it away"),
        (b"<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>", "declares a document type or entities"),
        ("<a/>".encode("utf-16"), "UTF-16 or UTF-32; save it as UTF-8"),
        ("<a/>".encode("utf-32-be"), "UTF-16 or UTF-32; save it as UTF-8"),
        (b"<?xml version='1.0' encoding='latin-1'?><a/>", "written in latin-1; save it as UTF-8"),
        (b" " * 64_000_001, "larger than 64 MB"),
    ],
)
def test_what_is_no_sidecar_is_refused_with_a_sentence(data, message):
    with pytest.raises(SidecarError, match=message):
        read_packet(data, "x.xmp")


@pytest.mark.parametrize("rating", [-2, 6])
def test_a_rating_outside_the_scale_is_refused(rating):
    with pytest.raises(SidecarError, match=f"rating {rating} can't be written; a rating is -1 to"):
        set_rating(empty_packet(), rating)


def test_a_rating_or_list_in_an_odd_form_is_left_alone():
    odd = ELEMENT_FORM.replace(b">4<", b"><rdf:value>4</rdf:value><")
    with pytest.raises(SidecarError, match="in a form that can't be changed safely: <xmp:Rating>"):
        set_rating(odd, 3)
    flat = ELEMENT_FORM.replace(b"<xmp:Rating>4", b"<d:subject xmlns:d='").replace(
        b"</xmp:Rating>", b"http://purl.org/dc/elements/1.1/'>a, b</d:subject>"
    )
    with pytest.raises(SidecarError, match=r"keywords in x\.xmp are not a list; mend the file"):
        add_keywords(flat, ["c"], "x.xmp")


def foreign_packets():
    """Sidecars with invented foreign properties as attributes and elements, in any order."""
    value = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), max_size=12)
    attributes = st.lists(value, max_size=5)
    return st.builds(
        _packet, attributes, st.one_of(st.none(), st.integers(-1, 5)), st.booleans(), value
    )


def _packet(values, rating, as_attribute, text):
    quoted = [v.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;") for v in values]
    written = [f'f:P{i}="{v}"' for i, v in enumerate(quoted)]
    inside = f"<f:T>{text.replace('&', '&amp;').replace('<', '&lt;').replace('>', '&gt;')}</f:T>"
    if rating is not None and as_attribute:
        written.insert(len(written) // 2, f"m:Rating='{rating}'")
    elif rating is not None:
        inside += f"<m:Rating>{rating}</m:Rating>"
    return (
        '<r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><r:Description r:about="" '
        f'{" ".join(written)} xmlns:f="urn:f" xmlns:m="http://ns.adobe.com/xap/1.0/">{inside}'
        "</r:Description></r:RDF>"
    ).encode()


@given(foreign_packets(), st.integers(-1, 5), st.lists(st.text(max_size=10), max_size=4))
def test_what_is_written_is_read_and_all_foreign_bytes_stay(data, rating, keywords):
    changed = add_keywords(set_rating(data, rating), keywords)
    says = read_packet(changed)
    assert says.rating == says.our_rating == rating
    ours_gone = re.sub(rb"<rdf:Description .*?</rdf:Description>\n ", b"", changed, flags=re.S)
    old = re.search(rb"m:Rating(='|>)", data)
    expected = re.sub(rb"(m:Rating[='>]+)-?\d", b"\\g<1>%d" % rating, data) if old else data
    assert ours_gone == expected
    assert add_keywords(set_rating(changed, rating), keywords) == changed


def test_deep_nesting_is_refused_at_once():
    """200,000 levels took 59 s before there was a limit."""
    deep = b"<a>" * 200_000 + b"</a>" * 200_000
    data = empty_packet().replace(b"</rdf:RDF>", deep + b"</rdf:RDF>")
    begun = time.process_time()
    with pytest.raises(SidecarError, match="nests more than 100 levels deep, which no sidecar"):
        read_packet(data)
    assert time.process_time() - begun < 1.0


def test_more_elements_than_any_sidecar_has_are_refused(monkeypatch):
    monkeypatch.setattr("sitwell.sort.packet.MOST_ELEMENTS", 10, raising=False)
    many = empty_packet().replace(b"</rdf:RDF>", b"<a/>" * 11 + b"</rdf:RDF>")
    with pytest.raises(SidecarError, match="has more than 10 elements, which no sidecar has; move"):
        set_rating(many, 3)
