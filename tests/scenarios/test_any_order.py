"""Whatever happens in whatever order: a few examples; `any_order.py` runs thousands of steps by hand."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

from tests.scenarios.any_order import AnyOrder

TestAnyOrder = AnyOrder.TestCase
TestAnyOrder.settings = settings(
    max_examples=40, stateful_step_count=12, deadline=None, suppress_health_check=list(HealthCheck)
)
