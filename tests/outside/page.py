"""The page in a real browser: Chromium, driven by selenium; accessibility by axe-core; sides of paper by pypdf.

Opens the page of the built-in rehearsal from disk, as a reader does: light and dark, wide and on a phone, marks it, plays from it,
saves a sheet from it and prints it. Opens as well what a mentor hands on, and a comparison.

Usage: python tests/outside/page.py PROGRAM
"""

import base64
import importlib.resources
import io
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

import pypdf
from selenium import webdriver
from selenium.webdriver.common.by import By

import support

# A narrow phone, a phone held sideways, and a wide screen, in CSS pixels.
WIDTHS = [320, 360, 640, 1440]
# The page opens with less work for the browser than this, in seconds of its processor: other work on the machine does not count.
OPENS_S = 1.0
# What a check of accessibility may take on a busy machine, in seconds.
LOOKS_S = 300
# Sides of A4 for each part.
SIDES = {"operator": 1, "mentor": 2}
# Kinds of violations that keep somebody from using the page (axe-core's own words).
GRAVE = {"serious", "critical"}
# Where distributions put the browser and its driver.
BROWSERS = ["chromium", "chromium-browser", "google-chrome"]


def rehearsal(program, folder):
    """Renders and reviews the built-in rehearsal; gives the folder of its review."""
    subprocess.run([program, "demo", str(folder / "demo"), "--quiet"], check=True)
    return folder / "demo-review"


def browser(downloads):
    """A browser without a window, with all that it asks of the network and says on its console in a log."""
    options = webdriver.ChromeOptions()
    options.binary_location = next(filter(None, map(shutil.which, BROWSERS)))
    for argument in ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--mute-audio",
                     "--autoplay-policy=no-user-gesture-required", "--disable-background-networking"]:
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(shutil.which("chromedriver")))
    allow = {"behavior": "allow", "downloadPath": str(downloads)}
    driver.execute_cdp_cmd("Browser.setDownloadBehavior", allow)
    driver.set_script_timeout(LOOKS_S)
    return driver


def wait_for(holds, seconds=10):
    """Whether something comes true within some seconds."""
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def asked_for(driver):
    """Addresses that the page asked for since the last call."""
    events = (json.loads(entry["message"])["message"] for entry in driver.get_log("performance"))
    return [event["params"]["request"]["url"] for event in events if event["method"] == "Network.requestWillBeSent"]


def complaints(driver):
    """What the console says of errors since the last call."""
    return [entry["message"] for entry in driver.get_log("browser") if entry["level"] == "SEVERE"]


def open_all(driver):
    """Opens everything that is folded."""
    driver.execute_script("for (const one of document.querySelectorAll('details')) one.open = true")


def seen(driver, width, scheme="light"):
    """Sets the width of the screen and the colour scheme."""
    size = {"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": width < 500}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})


def brightness(driver, property_name):
    """Brightness of a colour of the page, 0 to 255."""
    colour = driver.execute_script("return getComputedStyle(document.documentElement)[arguments[0]]", property_name)
    parts = [float(part) for part in colour[colour.index("(") + 1:-1].split(",")[:3]]
    return sum(parts) / 3


def violations(driver, rules=None):
    """Grave violations that axe-core finds, each with its first place: by some of its rules, or by all."""
    axe = importlib.resources.files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8")
    driver.execute_script(axe)
    options = {"resultTypes": ["violations"]} | ({"runOnly": rules} if rules else {})
    found = driver.execute_async_script("axe.run(arguments[0]).then((found) => arguments[1](found.violations))", options)
    return [f"{one['id']}: {one['nodes'][0]['html'][:90]}" for one in found if one["impact"] in GRAVE]


def printed(driver):
    """Sides of A4 that the page takes as it is."""
    pdf = driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})["data"]
    return len(pypdf.PdfReader(io.BytesIO(base64.b64decode(pdf))).pages)


def sides(driver, part):
    """Sides of A4 that a part takes, folded as it was found."""
    driver.execute_script("document.body.dataset.print = arguments[0]", part)
    n_sides = printed(driver)
    driver.execute_script("delete document.body.dataset.print")
    return n_sides


def check_opening(checks, driver, page, review):
    """It opens by itself, quickly, and shows what the review holds."""
    driver.execute_cdp_cmd("Performance.enable", {"timeDomain": "threadTicks"})
    driver.get(page.as_uri())
    metrics = driver.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]
    opened_s = next(metric["value"] for metric in metrics if metric["name"] == "TaskDuration")
    checks.holds(0 < opened_s < OPENS_S, f"it opens with {opened_s:.2f} s of work")
    titles = [card.text for card in driver.find_elements(By.CSS_SELECTOR, ".card h3")]
    expected = [f"{number}\n{note['title']}" for number, note in enumerate(review["notes"], 1)]
    checks.holds(len(titles) > 0 and titles == expected, f"the cards are the notes {titles}")
    seen_text = driver.find_element(By.ID, "operator").text
    for said in [note["sentence"] for note in review["notes"]] + [one["sentence"] for one in review["strengths"]]:
        checks.holds(said in seen_text, f"it says: {said[:60]}")
    hidden = driver.find_element(By.CSS_SELECTOR, "#mentor .inside").is_displayed()
    checks.holds(not hidden, "the mentor's part stands behind")
    driver.find_element(By.CSS_SELECTOR, "nav a[href='#mentor']").click()
    inside = driver.find_element(By.CSS_SELECTOR, "#mentor .inside")
    checks.holds(wait_for(inside.is_displayed), "a link opens it")


def check_sound(checks, driver, page):
    """Passages play from the folder beside the page."""
    sources = driver.execute_script("return [...document.querySelectorAll('audio')].map((one) => one.getAttribute('src'))")
    missing = [source for source in sources if not (page.parent / source).is_file()]
    checks.holds(sources and not missing, f"{len(sources)} passages lie beside the page {missing}")
    driver.execute_script("document.querySelector('audio').play()")
    playing = "return document.querySelector('audio').currentTime > 0.1"
    checks.holds(wait_for(lambda: driver.execute_script(playing)), "a passage plays")
    driver.execute_script("document.querySelector('audio').pause()")


def check_marks(checks, driver, program, page, downloads):
    """A mark outlives a reload, is saved, and the program reads the file."""
    open_all(driver)
    field = driver.find_element(By.CSS_SELECTOR, "#mentor fieldset.marks")
    rule = field.get_attribute("data-rule")
    field.find_element(By.CSS_SELECTOR, "input[value='on-purpose']").click()
    comment = "louder <b>\"on purpose\"</b>"
    field.find_element(By.CSS_SELECTOR, "input[type=text]").send_keys(comment)
    driver.refresh()
    open_all(driver)
    field = driver.find_element(By.CSS_SELECTOR, "#mentor fieldset.marks")
    kept = field.find_element(By.CSS_SELECTOR, "input:checked").get_attribute("value")
    checks.holds(kept == "on-purpose", f"the mark outlives a reload: {kept}")
    said = field.find_element(By.CSS_SELECTOR, "input[type=text]").get_attribute("value")
    checks.holds(said == comment, f"and so does its comment: {said}")
    driver.find_element(By.ID, "save").click()
    file = downloads / "marks.json"
    checks.holds(wait_for(file.is_file), "marks are saved as a file")
    saved = json.loads(file.read_text(encoding="utf-8"))["marks"]
    checks.holds([(one["rule"], one["mark"], one["comment"]) for one in saved] == [(rule, "on-purpose", comment)], f"it holds the mark {saved}")
    shutil.copy(file, page.parent / "marks.json")
    done = subprocess.run([program, "mark", str(page.parent), rule, "fits"], capture_output=True, text=True)
    checks.holds(done.returncode == 0, f"the program reads and writes the same file {done.stderr}")
    marked = json.loads((page.parent / "marks.json").read_text(encoding="utf-8"))["marks"]
    checks.holds([one["mark"] for one in marked] == ["fits"], f"its mark takes the place of the page's {marked}")


def check_sheet(checks, driver, program, page, downloads):
    """The page saves the sheet that the program writes from the same marks and words."""
    own = "Two *good* evenings.\n\nBring the <list>."
    driver.find_element(By.ID, "words").send_keys(own)
    driver.find_element(By.ID, "save-sheet").click()
    file = downloads / "sheet.md"
    checks.holds(wait_for(file.is_file), "a sheet is saved as a file")
    words = downloads / "words.txt"
    words.write_text(own, encoding="utf-8")
    command = [program, "sheet", page.parent, "--marks", downloads / "marks.json", "--words-file", words]
    expected = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    saved = file.read_text(encoding="utf-8")
    differing = [pair for pair in zip(saved.splitlines(), expected.splitlines()) if pair[0] != pair[1]]
    checks.holds(saved == expected, f"it is the one that the program writes {differing[:2]}")


def handed_on(program, page, folder):
    """Writes all that a mentor hands on; gives each file with the sides of A4 that it may take."""
    other = folder / "other.json"
    review = json.loads(page.with_name("review.json").read_text(encoding="utf-8"))
    voice = next(channel for channel in review["channels"] if channel["name"] == "LV")
    voice["loud_level_dbfs"] = {"value": -18.0, "confidence": 0.9}
    for judged in review["observations"]:
        if judged["rule"] == "gain-too-low" and judged["channels"] == [voice["id"]]:
            judged["outcome"] = "on-target"
            judged["measured"][0].update(value=-18.0)
    other.write_text(json.dumps(review), encoding="utf-8")
    commands = {
        "sheet.html": ["sheet", page.parent, "--audio", "--out"],
        "lead.html": ["sheet", page.parent, "--lead", "--out"],
        "card.html": ["sheet", page.parent, "--line-check", "--out"],
        "change.html": ["compare", page.parent, other, "--page"],
    }
    for name, command in commands.items():
        subprocess.run([program, *command, folder / name], check=True, capture_output=True)
    return {folder / "sheet.html": 1, folder / "lead.html": 1, folder / "card.html": 1, folder / "change.html": None}


def check_fit(checks, driver, name, widths):
    """No sideways scrolling at some widths, and no barrier that axe-core knows, in the light and in the dark."""
    for width in widths:
        seen(driver, width)
        needs = driver.execute_script("return document.documentElement.scrollWidth")
        checks.holds(needs <= width, f"{name}, {width} px wide: it needs {needs} px")
    for scheme in ["light", "dark"]:
        seen(driver, 1280, scheme)
        # What is in the way in the light is so in the dark as well, but for colours.
        grave = violations(driver, None if scheme == "light" else ["color-contrast"])
        checks.holds(not grave, f"{name}, {scheme}: nothing grave is in the way {grave}")


def check_handed_on(checks, driver, program, page, folder):
    """Sheets, cards and comparisons open, fit a phone and their side of paper, and keep nobody out."""
    for file, most in handed_on(program, page, folder).items():
        driver.get(file.as_uri())
        check_fit(checks, driver, file.name, [360])
        n_sides = printed(driver)
        checks.holds(most is None or n_sides == most, f"{file.name} takes {n_sides} sides, {most} wanted")
    said = driver.find_element(By.TAG_NAME, "main").text
    checks.holds("gone" in said and "LV" in said, "the comparison names what was planted")
    driver.get((folder / "sheet.html").as_uri())
    sources = driver.execute_script("return [...document.querySelectorAll('audio')].map((one) => one.getAttribute('src'))")
    lie_there = all((folder / source).is_file() for source in sources)
    checks.holds(sources and lie_there, f"a sheet that was asked to takes {len(sources)} passages along")


def check_looks(checks, driver):
    """Fits at any width, and is dark where it is dark."""
    open_all(driver)
    check_fit(checks, driver, "the review", WIDTHS)
    for scheme in ["light", "dark"]:
        seen(driver, 1280, scheme)
        ground, ink = brightness(driver, "backgroundColor"), brightness(driver, "color")
        is_so = ground > 200 > 100 > ink if scheme == "light" else ground < 60 < 200 < ink
        checks.holds(is_so, f"{scheme}: ground {ground:.0f}, ink {ink:.0f}")


def check_paper(checks, driver, page):
    """Each part keeps to its sides of paper."""
    driver.get(page.as_uri())
    for part, most in SIDES.items():
        n_sides = sides(driver, part)
        checks.holds(n_sides == most, f"the part of the {part} takes {n_sides} sides, {most} wanted")


def check_habits(checks, driver, program, folder):
    """The page of habits: a dot a session, nothing in the way, no sideways scrolling."""
    subprocess.run([program, "demo", "--history", str(folder / "weeks.sqlite")], check=True, capture_output=True)
    for who, n_dots in [(["--operator", "wren"], 8), (["--team"], 17)]:
        page = folder / f"{who[-1]}.html"
        subprocess.run([program, "habits", "--history", str(folder / "weeks.sqlite"), *who, "--page", str(page)], check=True, capture_output=True)
        seen(driver, 1280)
        driver.get(page.as_uri())
        open_all(driver)
        found = len(driver.find_elements(By.CSS_SELECTOR, "circle.dot"))
        checks.holds(found == n_dots, f"{who[-1]}: {found} dots")
        check_fit(checks, driver, f"habits of {who[-1]}", WIDTHS)


def main(program):
    checks = support.Checks()
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(scratch)
        page = rehearsal(program, folder) / "review.html"
        review = json.loads(page.with_name("review.json").read_text(encoding="utf-8"))
        driver = browser(folder)
        try:
            check_opening(checks, driver, page, review)
            check_sound(checks, driver, page)
            check_marks(checks, driver, program, page, folder)
            check_sheet(checks, driver, program, page, folder)
            check_looks(checks, driver)
            check_paper(checks, driver, page)
            check_habits(checks, driver, program, folder)
            check_handed_on(checks, driver, program, page, folder)
            asked = asked_for(driver)
            checks.holds(page.as_uri() in asked, "what the page asks for is seen")
            foreign = [url for url in asked if not url.startswith(("file:", "data:", "blob:"))]
            checks.holds(not foreign, f"nothing is asked of a network {foreign[:3]}")
            errors = complaints(driver)
            checks.holds(not errors, f"the console holds no error {errors[:3]}")
        finally:
            driver.quit()
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
