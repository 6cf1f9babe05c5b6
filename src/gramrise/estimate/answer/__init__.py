"""What is handed on: factors with their uncertainty and state, predictions, courses, what to log next."""

from gramrise.estimate.answer.candidate_uncertainty import shared_sd_log
from gramrise.estimate.answer.courses import courses_of
from gramrise.estimate.answer.factors import factors_frame
from gramrise.estimate.answer.level_course import WeekLevel, level_course
from gramrise.estimate.answer.missing_log import log_next, log_next_sentence
from gramrise.estimate.answer.predictions import predictions_of
from gramrise.estimate.answer.state_reasons import BandState, band_state, factor_row
from gramrise.estimate.answer.state_rules import Lack, last_delivery_change, latest_unnoticed_low, weight_is_young
from gramrise.estimate.answer.two_opinions import SecondOpinion, second_opinion

__all__ = [
    "BandState",
    "Lack",
    "SecondOpinion",
    "WeekLevel",
    "band_state",
    "courses_of",
    "factor_row",
    "factors_frame",
    "last_delivery_change",
    "latest_unnoticed_low",
    "level_course",
    "log_next",
    "log_next_sentence",
    "predictions_of",
    "second_opinion",
    "shared_sd_log",
    "weight_is_young",
]
