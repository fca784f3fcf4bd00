// Making elements. Text from a package only ever becomes text.

/** An element; `properties` are set on it (class and aria-* as attributes), then children. */
function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name === "class" || name === "for" || name === "role" || name.includes("-")) element.setAttribute(name, value);
    else element[name] = value;
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}

function byId(id) {
  return document.getElementById(id);
}

function say(words) {
  byId("said").textContent = words;
  byId("said").hidden = !words;
}

/** Text of a package inside a sentence: kept apart, so that its direction cannot reorder ours. */
function quoted(text) {
  return make("bdi", {}, String(text));
}

function sizeWords(bytes) {
  if (bytes < 1000) return `${bytes} bytes`;
  if (bytes < 1e6) return `${(bytes / 1e3).toFixed(1)} kB`;
  return `${(bytes / 1e6).toFixed(1)} MB`;
}

/** A section with its heading. */
function part(id, title, ...children) {
  const heading = make("h2", { id: `${id}-title` }, title);
  return make("section", { id, "aria-labelledby": heading.id }, heading, ...children);
}
