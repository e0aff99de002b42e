"use strict";
// What is typed stays in this browser, under the shoot, the setup and the place that was metered.
(() => {
  const inputs = [...document.querySelectorAll("input[data-key]")], said = document.getElementById("kept");
  let store = null;
  try { store = window.localStorage; store.setItem("lightcalc?", "1"); store.removeItem("lightcalc?"); } catch { store = null; }
  if (said) said.textContent = store ? "What you type stays on this phone." : "This browser keeps nothing: what you type is gone when the page is closed.";
  if (!store) return;
  for (const input of inputs) {
    input.value = store.getItem(input.dataset.key) || "";
    input.addEventListener("input", () => { try { input.value ? store.setItem(input.dataset.key, input.value) : store.removeItem(input.dataset.key); } catch { said.textContent = "Not kept: this phone has no room left."; } });
  }
  document.getElementById("clear").addEventListener("click", () => {
    if (!window.confirm("Clear every reading typed on this page?")) return;
    for (const input of inputs) { input.value = ""; store.removeItem(input.dataset.key); }
  });
})();
