// Between which times the record came to be: not before the depot's ticket, not
// after the time token.

// One of the second format asks for more after a package, and is signed by who asks.
const TICKET_FORMATS = ["evidence-ticket/1", "evidence-ticket/2"];
const LARGEST_TICKET = 64 * 1024;
const LARGEST_TOKEN = 2 ** 20;

// Clocks of different machines are compared with this patience (common practice, no source).
const PATIENCE = 5 * 60 * 1000;

class Tickets {
  constructor() {
    this.opened = [];
  }

  see(event) {
    if (event.kind === "ticket-opened") this.opened.push(event);
  }
}

/** The time token of a package: {moment} or {problem}, null when there is none. */
async function tokenOf(pack) {
  if (!pack.has("seal.tsr")) return null;
  const bytes = await pack.bytes("seal.tsr", LARGEST_TOKEN);
  const signature = await pack.bytes("seal.sig");
  try {
    if (!bytes) throw new Error("it is too large");
    const { imprint, moment } = readToken(bytes);
    if (!signature || imprint !== sha256(signature)) throw new Error("it is for something else than this seal");
    return { moment };
  } catch (error) {
    return { problem: `seal.tsr: ${error.message}` };
  }
}

/** The check `time-bracket`. `list` is the opened key list or null, `technician` the job's. */
async function judgeBracket(pack, tickets, originals, token, seal, list, technician) {
  const problems = [];
  const shownItems = [];
  let open = false;
  for (const event of tickets.opened) {
    const { problem, item, unknown } = await judgeTicket(pack, event, originals, seal, list, technician);
    if (problem) problems.push(`event ${event.sequence}: ${problem}`);
    else shownItems.push(item);
    open = open || unknown;
  }
  if (token?.problem) problems.push(token.problem);
  else if (token) {
    const said = new Date(token.moment).toISOString();
    if (momentOf(seal.closed_at) > token.moment + PATIENCE) problems.push("seal.tsr: is older than the end of the job");
    else shownItems.push(`a time token says that the seal existed at ${said}; who issued it was not checked here`);
    open = true;
  }
  if (problems.length) return fails("time-bracket", "A proof of time does not hold.", problems);
  if (!tickets.opened.length && !token) {
    return notChecked("time-bracket", "It carries neither a ticket nor a time token, so nothing outside the tablet bounds its times.");
  }
  if (open) return notChecked("time-bracket", "Its proofs of time fit it, but not everything could be checked.", shownItems);
  return holds("time-bracket", "What follows the ticket was not recorded before it was issued. No time token bounds the end.", shownItems);
}

async function judgeTicket(pack, event, originals, seal, list, technician) {
  const { body } = event;
  const place = (ref) => originals.pathOf(ref?.sha256);
  const bytes = await pack.bytes(place(body.ticket), LARGEST_TICKET);
  const signature = await pack.bytes(place(body.signature), LARGEST_TICKET);
  if (!bytes || !signature) return { problem: "its ticket or signature is missing or too large" };
  const ticket = readTicket(bytes);
  if (typeof ticket === "string") return { problem: `the ticket cannot be used: ${ticket}` };
  const repeats = ["nonce", "issued_at", "depot"].every((name) => body[name] === ticket[name]);
  if (!repeats) return { problem: "tells the ticket otherwise than the ticket itself" };
  if (ticket.claim !== null && ticket.claim !== seal.claim) return { problem: `the ticket is for claim ${shown(ticket.claim)}` };
  if (momentOf(ticket.issued_at) > event.moment + PATIENCE) return { problem: "the ticket is younger than its opening" };
  const { asked } = ticket;
  if (asked && asked.step_list_sha256 !== seal.step_list.sha256) return { problem: "the ticket asks for what another step list says" };
  const why = asked ? `, by which ${shown(asked.supervisor)} asked for it after the package with the seal ${asked.seal_sha256.slice(0, 16)}…` : "";
  const item = `event ${event.sequence}: ticket of ${shown(ticket.depot)}, issued ${ticket.issued_at}${why}`;
  if (!list) return { item: `${item}; without the depot's key its signature was not checked`, unknown: true };
  if (asked) {
    const owners = ownersOf(list, asked.key, momentOf(ticket.issued_at));
    if (!isAmong(asked.supervisor, owners)) return { problem: "more is asked for with a key that the key list does not stand behind" };
    if (isAmong(technician, owners)) return { problem: "the technician asks for more of a job of their own" };
  }
  if (!(await signatureHolds(asked ? fromHex(asked.key) : list.depotKey.raw, signature, bytes))) {
    return { problem: `the ticket's signature does not hold under the key of ${asked ? "who asks" : "the depot"}` };
  }
  if (ticket.depot !== list.depot) return { problem: "the ticket names another depot than the key list" };
  return { item, unknown: false };
}

/** The owners of the key with these 32 bytes (hex), as the list has them; "" unless it is good at that moment. */
function ownersOf(list, raw, moment) {
  const name = sha256(fromHex(SPKI_PREFIX + raw));
  const key = list.keys.find((candidate) => candidate.sha256 === name);
  if (!key || moment < key["valid-from"].moment || moment >= key["valid-until"].moment) return "";
  return !key["revoked-at"] || moment < key["revoked-at"].moment ? key.owner : "";
}

/** The ticket, or a text saying what is wrong. */
function readTicket(bytes) {
  let ticket;
  try {
    ticket = readCanonical(bytes);
  } catch (error) {
    return error.message;
  }
  if (isObject(ticket) && !TICKET_FORMATS.includes(ticket.format)) return "its format is unknown";
  const asks = isObject(ticket) && ticket.format === TICKET_FORMATS[1];
  const wrong = fieldsProblem(ticket, ["format", "depot", "nonce", "issued_at", "claim", ...(asks ? ["asked"] : [])])
    ?? (asks ? fieldsProblem(ticket.asked, ["seal_sha256", "step_list_sha256", "supervisor", "key"]) : null);
  if (wrong) return wrong;
  const sound =
    isWords(ticket.depot) && /^[0-9a-f]{32}$/.test(ticket.nonce) &&
    momentOf(ticket.issued_at) !== null && (ticket.claim === null || isWords(ticket.claim)) &&
    (!asks || (isWords(ticket.asked.supervisor) && [ticket.asked.seal_sha256, ticket.asked.step_list_sha256, ticket.asked.key].every(isDigest)));
  return sound ? ticket : "a field does not have its form";
}
