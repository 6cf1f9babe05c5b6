"""What is told about a trouble ends its sentences once."""

from gramrise.domain.problems import CouldNotRun, Trouble, WrongUse


def test_no_sentence_ends_twice():
    assert str(WrongUse("what is '3'?", "write 3 pieces.")) == "what is '3'? To mend: write 3 pieces."
    assert str(CouldNotRun("the disk is full", "make room")) == "the disk is full. To mend: make room."
    told = Trouble("no_time", "log.csv", 3, "", "", "the row has no time.", "write it").sentence
    assert told == "log.csv row 3: the row has no time. To mend: write it."
