// A reader of TOML 1.0, for the step list. Strict: what the standard does not allow is
// refused, because two readers must not see two step lists in the same bytes.
//
// Tables are objects without a prototype, whole numbers are BigInt, other numbers are
// Number, dates and times are TomlTime.

const DEEPEST_TOML = 100;
const TOML_TIME =
  /(?:\d{4}-\d\d-\d\d(?:[Tt ]\d\d:\d\d:\d\d(?:\.\d+)?(?:[Zz]|[+-]\d\d:\d\d)?)?|\d\d:\d\d:\d\d(?:\.\d+)?)/y;
const TOML_WHOLE = /0x[0-9A-Fa-f](?:_?[0-9A-Fa-f])*|0o[0-7](?:_?[0-7])*|0b[01](?:_?[01])*|[+-]?(?:0|[1-9](?:_?\d)*)/y;
const TOML_FLOAT =
  /[+-]?(?:inf|nan|(?:0|[1-9](?:_?\d)*)(?:\.\d(?:_?\d)*(?:[eE][+-]?\d(?:_?\d)*)?|[eE][+-]?\d(?:_?\d)*))/y;
const TOML_ESCAPES = { b: "\b", t: "\t", n: "\n", f: "\f", r: "\r", '"': '"', "\\": "\\" };

class TomlTime {}

/** The top table of a TOML text; throws an Error naming the line. */
function readToml(text) {
  return new TomlReader(text.replaceAll("\r\n", "\n")).document();
}

class TomlReader {
  constructor(text) {
    this.text = text;
    this.at = 0;
    this.depth = 0;
    this.top = Object.create(null);
    this.table = this.top;
    // Tables that a header or a key with dots has named in full; tables and lists that were
    // written as one value and cannot grow; lists of tables that headers write.
    this.named = new WeakSet();
    this.whole = new WeakSet();
    this.rows = new WeakSet();
    this.dotted = new WeakSet();
  }

  document() {
    for (this.blanks(true); this.at < this.text.length; this.blanks(true)) {
      if (this.take("[[")) this.rowHeader();
      else if (this.take("[")) this.header();
      else this.pair(this.table, this.dotted, true);
      this.blanks(false);
      if (this.at < this.text.length && !this.take("\n")) this.refuse("something stands behind the end of a line's value");
    }
    return this.top;
  }

  refuse(what) {
    const line = this.text.slice(0, this.at).split("\n").length;
    throw new Error(`line ${line}: ${what}`);
  }

  take(expected) {
    if (!this.text.startsWith(expected, this.at)) return false;
    this.at += expected.length;
    return true;
  }

  need(expected) {
    if (!this.take(expected)) this.refuse(`${shown(expected)} is missing`);
  }

  match(pattern) {
    pattern.lastIndex = this.at;
    const found = pattern.exec(this.text);
    if (found) this.at += found[0].length;
    return found && found[0];
  }

  spaces() {
    this.match(/[ \t]*/y);
  }

  /** Spaces and a comment; with `lines` also line ends, as often as they come. */
  blanks(lines) {
    do {
      this.spaces();
      if (this.take("#")) {
        this.match(/[^\x00-\x08\x0a-\x1f\x7f]*/y);
        if (this.at < this.text.length && this.text[this.at] !== "\n") this.refuse("a comment holds a control character");
      }
    } while (lines && this.take("\n"));
  }

  // --- headers and keys ---------------------------------------------------------------

  header() {
    const { parent, name } = this.headerPlace("]");
    if (!Object.hasOwn(parent, name)) parent[name] = Object.create(null);
    const table = parent[name];
    if (!isTomlTable(table) || this.whole.has(table) || this.named.has(table)) this.refuse(`${shown(name)} is written twice`);
    this.named.add(table);
    this.table = table;
  }

  rowHeader() {
    const { parent, name } = this.headerPlace("]]");
    if (!Object.hasOwn(parent, name)) {
      parent[name] = [];
      this.rows.add(parent[name]);
    }
    if (!Array.isArray(parent[name]) || !this.rows.has(parent[name])) this.refuse(`${shown(name)} is written twice`);
    this.table = Object.create(null);
    this.named.add(this.table);
    parent[name].push(this.table);
  }

  headerPlace(end) {
    // What keys with dots have made is closed by the next header.
    this.dotted = new WeakSet();
    this.spaces();
    const path = this.key();
    this.need(end);
    const name = path.pop();
    let parent = this.top;
    for (const part of path) {
      if (!Object.hasOwn(parent, part)) parent[part] = Object.create(null);
      parent = parent[part];
      if (Array.isArray(parent) && this.rows.has(parent)) parent = parent.at(-1);
      if (!isTomlTable(parent) || this.whole.has(parent)) this.refuse(`${shown(part)} holds a value and no tables`);
    }
    return { parent, name };
  }

  /** The parts of a key and the spaces behind it. */
  key() {
    const parts = [];
    do {
      this.spaces();
      parts.push(this.keyPart());
      this.spaces();
    } while (this.take("."));
    return parts;
  }

  keyPart() {
    const bare = this.match(/[A-Za-z0-9_-]+/y);
    if (bare !== null) return bare;
    if (this.take('"')) return this.basic();
    if (this.take("'")) return this.literal();
    return this.refuse("a key is missing");
  }

  /** `key = value` into a table; `open` are the tables that keys with dots may still add to. */
  pair(table, open, inDocument) {
    const path = this.key();
    this.need("=");
    this.spaces();
    const value = this.value();
    const name = path.pop();
    for (const part of path) {
      if (!Object.hasOwn(table, part)) table[part] = Object.create(null);
      table = table[part];
      const closed = !isTomlTable(table) || this.whole.has(table) || (this.named.has(table) && !open.has(table));
      if (closed) this.refuse(`${shown(part)} cannot be added to here`);
      open.add(table);
      if (inDocument) this.named.add(table);
    }
    if (Object.hasOwn(table, name)) this.refuse(`the key ${shown(name)} is written twice`);
    if (isTomlTable(value) || Array.isArray(value)) this.whole.add(value);
    table[name] = value;
  }

  // --- values ---------------------------------------------------------------------------

  value() {
    if (this.take('"""')) return this.longText('"');
    if (this.take("'''")) return this.longText("'");
    if (this.take('"')) return this.basic();
    if (this.take("'")) return this.literal();
    if (this.take("[")) return this.nested(() => this.list());
    if (this.take("{")) return this.nested(() => this.inlineTable());
    if (this.take("true")) return true;
    if (this.take("false")) return false;
    if (this.match(TOML_TIME) !== null) return new TomlTime();
    const float = this.match(TOML_FLOAT);
    if (float !== null) return Number(float.replaceAll("_", "").replace(/inf$/, "Infinity").replace(/[+-]?nan$/, "NaN"));
    const whole = this.match(TOML_WHOLE);
    if (whole !== null) return BigInt(whole.replaceAll("_", "").replace(/^\+/, ""));
    return this.refuse("this is no value");
  }

  nested(read) {
    if (++this.depth > DEEPEST_TOML) this.refuse("it is nested too deeply");
    const value = read();
    this.depth -= 1;
    return value;
  }

  list() {
    const items = [];
    for (this.blanks(true); !this.take("]"); this.blanks(true)) {
      items.push(this.value());
      this.blanks(true);
      if (this.take("]")) break;
      this.need(",");
    }
    for (const item of items) if (isTomlTable(item) || Array.isArray(item)) this.whole.add(item);
    return items;
  }

  inlineTable() {
    const table = Object.create(null);
    const open = new WeakSet();
    this.spaces();
    if (this.take("}")) return table;
    for (;;) {
      this.pair(table, open, false);
      this.spaces();
      if (this.take("}")) return table;
      this.need(",");
    }
  }

  // --- texts ----------------------------------------------------------------------------

  literal() {
    const text = this.match(/[^\x00-\x08\x0a-\x1f\x7f']*/y);
    this.need("'");
    return text;
  }

  basic() {
    let text = "";
    for (;;) {
      text += this.match(/[^\x00-\x08\x0a-\x1f\x7f"\\]*/y);
      if (!this.take("\\")) break;
      text += this.escaped();
    }
    this.need('"');
    return text;
  }

  /** A text of several lines up to three of its quotation marks; up to two more belong to it. */
  longText(mark) {
    this.take("\n");
    const plain = mark === '"' ? /[^\x00-\x08\x0b-\x1f\x7f"\\]*/y : /[^\x00-\x08\x0b-\x1f\x7f']*/y;
    let text = "";
    for (;;) {
      text += this.match(plain);
      if (this.take(mark.repeat(3))) {
        const more = this.match(mark === '"' ? /"{0,2}/y : /'{0,2}/y);
        return text + more;
      }
      if (this.take(mark)) text += mark;
      else if (mark === '"' && this.take("\\")) text += this.match(/[ \t]*\n[ \t\n]*/y) === null ? this.escaped() : "";
      else this.refuse("a text is not ended, or holds a control character");
    }
  }

  escaped() {
    const short = this.match(/[btnfr"\\]/y);
    if (short !== null) return TOML_ESCAPES[short];
    const long = this.match(/u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}/y);
    const code = long === null ? NaN : parseInt(long.slice(1), 16);
    const isCharacter = code <= 0xd7ff || (code >= 0xe000 && code <= 0x10ffff);
    return isCharacter ? String.fromCodePoint(code) : this.refuse("this escape is unknown");
  }
}

function isTomlTable(value) {
  return isObject(value) && !(value instanceof TomlTime);
}
