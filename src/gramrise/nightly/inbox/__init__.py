"""The inbox: `inbox/<person>/` in the home. A file is read once it lies still, and moved only after the commit.

done/   its rows are in the database
held/   it could not be read; a text file beside it says why and how to mend it
"""

from gramrise.nightly.inbox.done import bring_back_grown
from gramrise.nightly.inbox.folders import (
    DONE,
    HELD,
    INBOX,
    closed_inboxes,
    files_held,
    for_nobody,
    held_files,
    make_inboxes,
    shared_folders,
)
from gramrise.nightly.inbox.held import bring_back_held, remove_old_reasons, settle_held, settle_if_held
from gramrise.nightly.inbox.looks import left_alone, lying_still, oldest_age, waiting_files
from gramrise.nightly.inbox.taking import TakenIn, take_in_files

__all__ = [
    "DONE",
    "HELD",
    "INBOX",
    "TakenIn",
    "bring_back_grown",
    "bring_back_held",
    "closed_inboxes",
    "files_held",
    "for_nobody",
    "held_files",
    "left_alone",
    "lying_still",
    "make_inboxes",
    "oldest_age",
    "remove_old_reasons",
    "settle_held",
    "settle_if_held",
    "shared_folders",
    "take_in_files",
    "waiting_files",
]
