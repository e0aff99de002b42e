"""The order of the tests."""


def pytest_collection_modifyitems(items):
    """Browser tests last: their driver keeps an event loop running on this thread, where others start their own."""
    items.sort(key=lambda item: "browser" in item.path.parts)
