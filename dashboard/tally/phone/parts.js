// Parts of the page: elements made of plain text, so that no name in a record is read as markup.

export function part(tag, settings = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(settings)) {
    if (name === "tap") made.addEventListener("click", value);
    else if (name === "type_in") made.addEventListener("input", value);
    else if (value !== null && value !== undefined && value !== false) {
      made.setAttribute(name, value === true ? "" : value);
    }
  }
  made.append(...inside.filter((each) => each !== null && each !== ""));
  return made;
}

export const paragraph = (text, kind = "") => part("p", { class: kind || null }, text);
export const alert = (text) => part("p", { class: "alert", role: "alert" }, text);
export const done = (text) => part("p", { class: "done" }, text);
export const note = (text) => part("p", { class: "note" }, text);
export const lines = (texts) => part("ul", {}, ...texts.map((text) => part("li", {}, text)));
export const button = (text, tap, kind = "") =>
  part("button", { type: "button", class: kind || null, tap }, text);

export const number = (count, one) => `${count} ${count === 1 ? one : `${one}s`}`;
export const clock = (ms) =>
  new Date(ms).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });

// One count: minus, a field for the phone's keypad, plus. Minus goes to 0 and then to empty.
export function count(key, label, text, changed) {
  const id = `field ${key}`.replaceAll(" ", "-");
  const field = part("input", {
    id, "data-key": key, inputmode: "numeric", autocomplete: "off", maxlength: 6, enterkeyhint: "done",
    type_in: () => changed(key, field.value),
  });
  field.value = text;
  const step = (by) => {
    const now = Number.parseInt(field.value, 10);
    if (Number.isNaN(now)) field.value = by > 0 ? "1" : "";
    else field.value = now + by < 0 ? "" : String(now + by);
    changed(key, field.value);
  };
  return part(
    "div", { class: "count" },
    part("label", { for: id }, label),
    part("button", { type: "button", "aria-label": `One less: ${label}`, tap: () => step(-1) }, "−"),
    field,
    part("button", { type: "button", "aria-label": `One more: ${label}`, tap: () => step(1) }, "+"),
  );
}

export function words(key, label, text, most, changed) {
  const id = `field ${key}`.replaceAll(" ", "-");
  const field = part("input", {
    id, "data-key": key, autocomplete: "off", maxlength: most, type_in: () => changed(key, field.value),
  });
  field.value = text;
  return part("div", { class: "words" }, part("label", { for: id }, label), field);
}
