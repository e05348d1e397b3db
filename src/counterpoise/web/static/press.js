// A pressed button says that it works, and takes no second press. Without this script all works
// the same, only more quietly.
const WORDS = { post: "Saving…", get: "Calculating…" };

addEventListener("submit", (event) => {
  const form = event.target;
  const pressed = event.submitter;
  // after the browser has gathered the fields: a disabled button would not be sent
  setTimeout(() => {
    if (event.defaultPrevented) return;
    form.setAttribute("aria-busy", "true");
    for (const button of form.querySelectorAll("button")) button.disabled = true;
    if (!pressed) return;
    pressed.dataset.said = pressed.textContent;
    pressed.textContent = WORDS[form.method] || WORDS.post;
    pressed.setAttribute("aria-busy", "true");
  });
});

// whoever comes back by the browser's arrow meets the page as it was
addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[aria-busy]")) {
    form.removeAttribute("aria-busy");
    for (const button of form.querySelectorAll("button")) {
      button.disabled = false;
      button.removeAttribute("aria-busy");
      if (button.dataset.said) button.textContent = button.dataset.said;
    }
  }
});
