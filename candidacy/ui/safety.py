"""Settings without which the pages refuse to run, however they were started."""

import ipaddress

import streamlit as st


def unsafe_settings() -> list[str]:
    """What would make running unsafe: a server open to others, usage statistics, guards switched off."""
    found = []
    address = st.get_option("server.address")
    if not _loopback(address):
        found.append("the server would listen beyond this machine")
    if st.get_option("browser.gatherUsageStats"):
        found.append("usage statistics are on")
    if not st.get_option("server.enableXsrfProtection") or not st.get_option("server.enableCORS"):
        found.append("the guards against foreign pages are off")
    return found


def _loopback(address: object) -> bool:
    if address == "localhost":
        return True
    try:
        return ipaddress.ip_address(str(address)).is_loopback
    except ValueError:
        return False
