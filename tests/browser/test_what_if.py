"""The sliders of a quote's what-if in headless Chromium."""

from __future__ import annotations

import re

import pytest

pytestmark = pytest.mark.xdist_group("browser")  # one site and one browser for all of them


def test_a_slider_moves_its_number_and_shows_the_difference_at_once(visit):
    page = visit("maker")
    page.goto("/quotes/Q-0001/")
    wage = page.get_by_role("spinbutton", name=re.compile("Wage per hour"))
    before = float(wage.input_value())
    slider = page.get_by_role("slider", name=re.compile("Wage per hour"))
    slider.focus()
    with page.expect_response(lambda answer: "labor_per_hour=" in answer.url):
        page.keyboard.press("ArrowRight")
    assert float(wage.input_value()) == before + 1
    page.get_by_role("region", name="The difference that it makes").wait_for()
