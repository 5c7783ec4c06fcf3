"""The Chromium of the system, without a screen and with every way to the network closed."""

import json
import os
import shutil
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.support.wait import WebDriverWait

from tests.browser.explorer import runs, written
from tests.project import Project

HERE = Path(__file__).parent
NETWORK = ("http", "ws", "ftp")
# The software renderer of a machine without a graphics card says that it is slow.
RENDERER_TALK = "GL Driver Message"


def pytest_collection_modifyitems(items):
    for item in items:
        if item.path.is_relative_to(HERE):
            item.add_marker(pytest.mark.browser)


def _programs():
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    return chromium, shutil.which("chromedriver")


@pytest.fixture(scope="session")
def programs():
    chromium, driver = _programs()
    if not (chromium and driver):
        reason = "Chromium and its driver are missing (Debian: chromium, chromium-driver)"
        if os.environ.get("ONECOUPLE_BROWSER") == "required":
            pytest.fail(reason)
        pytest.skip(reason)
    return chromium, driver


@pytest.fixture(scope="session")
def driver(programs, tmp_path_factory):
    downloads = tmp_path_factory.mktemp("downloads")
    options = webdriver.ChromeOptions()
    options.binary_location = programs[0]
    arguments = ["--headless=new", "--disable-dev-shm-usage", "--enable-unsafe-swiftshader"]
    arguments += ["--host-resolver-rules=MAP * ~NOTFOUND", "--disable-background-networking"]
    arguments += ["--hide-scrollbars"]
    if os.geteuid() == 0:
        arguments.append("--no-sandbox")
    for argument in arguments:
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    options.add_experimental_option("perfLoggingPrefs", {"enablePage": False})
    options.add_experimental_option("prefs", {"download.default_directory": str(downloads)})
    browser = webdriver.Chrome(options=options, service=Service(programs[1]))
    browser.downloads = downloads
    offline = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
    browser.execute_cdp_cmd("Network.enable", {})
    browser.execute_cdp_cmd("Network.emulateNetworkConditions", offline)
    yield browser
    browser.quit()


class Page:
    """A page in the browser, and what the tests ask of it."""

    def __init__(self, driver, path):
        self.driver = driver
        self.path = path

    def open(self, width=1280, height=900, ready="ready"):
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        self.messages()
        self.driver.get(self.path.as_uri())
        self.wait(f"return performance.getEntriesByName('{ready}').length > 0")
        return self

    def run(self, script, *arguments):
        return self.driver.execute_script(script, *arguments)

    def wait(self, script, *arguments):
        return WebDriverWait(self.driver, 30, 0.02).until(lambda d: self.run(script, *arguments))

    def find(self, selector):
        return self.driver.find_element("css selector", selector)

    def find_all(self, selector):
        return self.driver.find_elements("css selector", selector)

    def text(self, selector):
        return self.run("return document.querySelector(arguments[0]).textContent", selector)

    def count(self, name):
        return self.run("return performance.getEntriesByName(arguments[0]).length", name)

    def messages(self):
        """Errors and warnings on the console since the last call."""
        log = self.driver.get_log("browser")
        return [entry["message"] for entry in log if RENDERER_TALK not in entry["message"]]

    def requests(self):
        """Addresses asked for on a network since the last call, reached or not."""
        events = [json.loads(e["message"])["message"] for e in self.driver.get_log("performance")]
        sent = ("Network.requestWillBeSent", "Network.webSocketCreated")
        asked = [e["params"] for e in events if e["method"] in sent]
        addresses = [a["request"]["url"] if "request" in a else a["url"] for a in asked]
        return [address for address in addresses if address.startswith(NETWORK)]


@pytest.fixture(scope="session")
def browser_page(driver):
    return lambda path: Page(driver, path)


@pytest.fixture(scope="session")
def table():
    return runs(600)


@pytest.fixture(scope="session")
def page_file(table, tmp_path_factory):
    return written(table, tmp_path_factory.mktemp("small"))


@pytest.fixture
def page(page_file, browser_page):
    return browser_page(page_file).open()


@pytest.fixture(scope="session")
def many():
    return runs(10_000)


@pytest.fixture(scope="session")
def many_file(many, tmp_path_factory):
    return written(many, tmp_path_factory.mktemp("large"))


@pytest.fixture(scope="session")
def finished(tmp_path_factory):
    """The default case, run from nothing; tests must leave it as they found it."""
    project = Project(tmp_path_factory.mktemp("run") / "project")
    project.snakemake()
    return project
