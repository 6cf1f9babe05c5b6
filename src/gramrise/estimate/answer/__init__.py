"""What is handed on: factors with their uncertainty and state, predictions, courses, what to log next."""

from gramrise.estimate.answer.candidate_uncertainty import shared_sd_log
from gramrise.estimate.answer.courses import courses_of
from gramrise.estimate.answer.factors import factors_frame
from gramrise.estimate.answer.missing_log import log_next, log_next_sentence
from gramrise.estimate.answer.predictions import predictions_of
from gramrise.estimate.answer.state import last_delivery_change, weight_is_young
from gramrise.estimate.answer.two_opinions import SecondOpinion, second_opinion

__all__ = [
    "SecondOpinion",
    "courses_of",
    "factors_frame",
    "last_delivery_change",
    "log_next",
    "log_next_sentence",
    "predictions_of",
    "second_opinion",
    "shared_sd_log",
    "weight_is_young",
]
