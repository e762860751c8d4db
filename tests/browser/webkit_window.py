#!/usr/bin/python3
"""A tablet's browser on WebKitGTK, run by its WebDriver: one window, which keeps what pages keep in the folder named.

Debian's own small browser keeps nothing while it is driven, and a tablet that is opened again in the morning has to
find what it kept. Run by the system's Python, which has WebKitGTK's bindings; the tests' own has not.
"""

import sys

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")
from gi.repository import Gtk, WebKit2  # noqa: E402

WIDTH, HEIGHT = 1180, 820


def main(folder: str) -> None:
    manager = WebKit2.WebsiteDataManager(base_data_directory=f"{folder}/data", base_cache_directory=f"{folder}/cache")
    context = WebKit2.WebContext.new_with_website_data_manager(manager)
    context.set_automation_allowed(True)
    context.connect("automation-started", started)
    Gtk.main()


def started(context: WebKit2.WebContext, session: WebKit2.AutomationSession) -> None:
    # The driver gives the session only to a browser of the name it knows.
    about = WebKit2.ApplicationInfo()
    about.set_name("MiniBrowser")
    about.set_version(WebKit2.get_major_version(), WebKit2.get_minor_version(), WebKit2.get_micro_version())
    session.set_application_info(about)
    session.connect("create-web-view", lambda _: a_window(context))


def a_window(context: WebKit2.WebContext) -> WebKit2.WebView:
    view = WebKit2.WebView(web_context=context, is_controlled_by_automation=True)
    view.get_settings().set_enable_write_console_messages_to_stdout(True)
    window = Gtk.Window()
    window.set_default_size(WIDTH, HEIGHT)
    window.add(view)
    window.show_all()
    view.connect("close", lambda _: window.destroy())
    return view


if __name__ == "__main__":
    main(sys.argv[1])
