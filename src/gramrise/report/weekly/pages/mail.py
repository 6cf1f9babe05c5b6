"""The weekly mail: text and HTML with its pictures inside, the PDF attached. Composed here, sent elsewhere."""

from datetime import datetime
from email import policy
from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import format_datetime

from gramrise.report.weekly.chapters.document import Document, Picture
from gramrise.report.weekly.chapters.factor_picture import NARROW_POINTS
from gramrise.report.weekly.chapters.report_document import document_of, words_of
from gramrise.report.weekly.numbers.view import WeeklyView
from gramrise.report.weekly.pages.html import html_of
from gramrise.report.weekly.pages.pdf import picture_png, render_pdf
from gramrise.report.weekly.pages.plain_text import text_of, wrapped
from gramrise.report.weekly.settings import DEFAULT, ReportSettings

# CRLF line ends and at most 78 characters a line, as RFC 5322 (section 2.1.1) asks of every sender.
WIRE = policy.SMTP.clone(max_line_length=78)
# For an address with letters beyond ASCII, which no header can hold otherwise (RFC 6532).
WIRE_UTF8 = WIRE.clone(utf8=True)


def compose(
    view: WeeklyView,
    recipient: str,
    *,
    message_id: str,
    date: datetime,
    sender: str,
    sender_name: str = "",
    settings: ReportSettings = DEFAULT,
) -> EmailMessage:
    """One person's report for one recipient, ready to be sent or written to an .eml file.

    message_id   "<...@...>"; the same for every try to send this mail
    date         aware; the Date header
    The subject carries the week and nothing of the person. `bytes(message)` is the wire form: CRLF, lines <= 78.
    raises ValueError for a line break in an address or the message id
    """
    words = words_of(view)
    document = document_of(view, settings)
    message = EmailMessage(policy=WIRE if (recipient + sender).isascii() else WIRE_UTF8)
    message["Message-ID"] = message_id
    message["Date"] = format_datetime(date)
    message["From"] = Address(sender_name, *sender.rsplit("@", 1)) if sender_name else sender
    message["To"] = recipient
    message["Subject"] = words.say("mail.subject", day=words.day(view.week_end, "brief"))
    message["Content-Language"] = document.language
    file = f"{words.say('mail.file')}-{view.week_end.isoformat()}.pdf"
    greeting = words.say("mail.greeting", name=document.name, file=file)
    opening = "\n".join(wrapped(greeting))
    message.set_content(f"{opening}\n\n{text_of(document)}", cte="quoted-printable")
    _add_html(message, document, greeting, message_id, settings)
    message.add_attachment(render_pdf(view, None, settings), maintype="application", subtype="pdf", filename=file)
    return message


def _add_html(
    message: EmailMessage, document: Document, greeting: str, message_id: str, settings: ReportSettings
) -> None:
    """The HTML part with each picture beside it, named by a content id of this message's own."""
    pictures = [block for block in document.blocks if isinstance(block, Picture)]
    host = message_id.strip("<>").partition("@")[2]
    ids = {picture.name: f"{picture.name}@{host}" for picture in pictures}
    message.add_alternative(html_of(document, ids, greeting), subtype="html", cte="quoted-printable")
    html_part = message.get_body(("html",))
    assert isinstance(html_part, EmailMessage)
    for picture in pictures:
        html_part.add_related(
            picture_png(picture.narrow_svg, NARROW_POINTS, settings.mail_picture_dots_per_inch),
            maintype="image",
            subtype="png",
            cid=f"<{ids[picture.name]}>",
            disposition="inline",
            filename=f"{picture.name}.png",
        )
