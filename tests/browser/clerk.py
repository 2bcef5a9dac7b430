"""A clerk with a scanner and a keyboard and no mouse, whose keystrokes are counted."""

from dataclasses import dataclass, field

from playwright.sync_api import Page, expect

HAND_MS = 150
"""Between two keys of a hand, so much that a busy machine makes no scanner of it."""


@dataclass
class Clerk:
    """A scan counts as one, with the Enter that ends it; every other key as one."""

    page: Page
    keystrokes: int = 0
    by_act: dict[str, int] = field(default_factory=dict)

    def scan(self, code: str, leads_to: str) -> None:
        self.keystrokes += 1
        self.page.keyboard.type(code)
        self.page.keyboard.press("Enter")
        self.expect_heading(leads_to)

    def type(self, text: str) -> None:
        self.keystrokes += len(text)
        self.page.keyboard.type(text, delay=HAND_MS)

    def press(self, *keys: str) -> None:
        for key in keys:
            self.keystrokes += 1
            self.page.keyboard.press(key)

    def act(self, name: str, first_letters: str) -> None:
        """Its form, by the first letters of its name in the box."""
        self.type(first_letters)
        self.press("Enter")
        self.expect_heading(name)

    def expect_heading(self, text: str) -> None:
        """The page is there with its script: nobody scans within the moment in which it comes."""
        expect(self.page.locator("h1")).to_contain_text(text)
        self.page.wait_for_load_state()

    def expect_answer(self, text: str) -> None:
        """The dialogue of measuring has taken it, and asks on."""
        expect(self.page.locator(".answers strong").last).to_have_text(text)
        self.page.wait_for_load_state()

    def done(self, act: str, said: str) -> None:
        expect(self.page.locator("[data-report]").first).to_contain_text(said)
        self.page.wait_for_load_state()
        self.by_act[act], self.keystrokes = self.keystrokes, 0
