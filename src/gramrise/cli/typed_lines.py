"""A line typed at a terminal, from which Ctrl-C always leads out."""

import signal
import threading

import typer


def line_typed(prompt: str) -> str:
    """One line as typed, without blanks around it. Raises EOFError at the end of input, KeyboardInterrupt at Ctrl-C."""
    _let_control_c_through()
    return input(prompt).strip()


def confirmed(question: str) -> bool:
    """Whether somebody says yes. Raises Abort at the end of input and at Ctrl-C."""
    _let_control_c_through()
    return typer.confirm(question)


def _let_control_c_through() -> None:
    """Has a signal end the wait for a line.

    A library of frames that was loaded meanwhile takes the signal in a way that lets the system go on reading after
    it (SA_RESTART): Ctrl-C would be heard only once somebody typed Enter. Before each line that is taken back; who
    hears the signal stays as it is.
    """
    if threading.current_thread() is threading.main_thread() and hasattr(signal, "siginterrupt"):
        signal.siginterrupt(signal.SIGINT, True)
