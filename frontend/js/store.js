// @ts-check
/**
 * What this device knows: who is signed in, and what that person typed that the server has not acknowledged. Kept in
 * localStorage under the person's own id, so that a shared tablet never mixes two people; purged at sign-out.
 *
 * @typedef {{id: number, name: string, email: string, role: "technician" | "manager" | "owner",
 *            units: Record<string, string>, language: string, has_pin: boolean, second_factor: boolean, second_factor_due: boolean, business: {id: number, name: string},
 *            shop: {id: number, name: string, code: string, paper: string, time_zone: string}}} Person
 *
 * @typedef {{person: Person, language: string}} Session  who is here, and the language that they are spoken to in
 *
 * @typedef {{read: () => any, write: (value: any) => void, drop: () => void}} Draft
 */

const PREFIX = "coilbook.";

/** @type {Person | null} */
let person = null;

/** Return who is signed in. */
export const whoIsHere = () => person;

/** @param {Person | null} next null: nobody is signed in; what the last person typed stays for them */
export function setPerson(next) {
  person = next;
  if (next) keepShared("person", next);
  else localStorage.removeItem(`${PREFIX}shared.person`);
}

/** Return who was here last and did not sign out: without network the server cannot be asked. @returns {Person | null} */
export const lastPerson = () => readShared("person");

/**
 * Return the place where this person's `name` is kept until it is acknowledged: `read` gives what was kept or null.
 *
 * @param {string} name
 * @returns {Draft}
 */
export function draft(name) {
  const key = place(name);
  return {
    read: () => fetchItem(key),
    write: (value) => storeItem(key, value),
    drop: () => localStorage.removeItem(key),
  };
}

/** Return the names of this person's drafts that begin with `start`. @param {string} start */
export function draftNames(start) {
  const from = place(start);
  return allKeys().filter((key) => key.startsWith(from)).map((key) => key.slice(place("").length));
}

/**
 * Delete, of every person on this device, what is kept under a name that `gone` tells.
 *
 * @param {(name: string) => boolean} gone
 */
export function purge(gone) {
  const named = /^coilbook\.\d+\.(.+)$/;
  for (const key of allKeys()) if (gone(named.exec(key)?.[1] ?? "")) localStorage.removeItem(key);
}

/** The person signs out: delete all that this device keeps for them. */
export function forgetPerson() {
  for (const key of allKeys().filter((each) => each.startsWith(place("")))) localStorage.removeItem(key);
  setPerson(null);
}

/** Keep something that belongs to no person, like the unit table. @param {string} name @param {any} value */
export const keepShared = (name, value) => storeItem(`${PREFIX}shared.${name}`, value);

/** @param {string} name @returns {any} */
export const readShared = (name) => fetchItem(`${PREFIX}shared.${name}`);

/** @param {string} name */
function place(name) {
  return `${PREFIX}${person?.id ?? "nobody"}.${name}`;
}

function allKeys() {
  return Array.from({ length: localStorage.length }, (_, index) => localStorage.key(index) ?? "");
}

/** @param {string} key */
function fetchItem(key) {
  try {
    return JSON.parse(localStorage.getItem(key) ?? "null");
  } catch {
    return null;
  }
}

/** @param {string} key @param {any} value */
function storeItem(key, value) {
  try {
    localStorage.setItem(key, JSON.stringify(value));
  } catch {
    // A full store must not stop the work in hand: the page still holds what was typed.
    document.dispatchEvent(new CustomEvent("coilbook:store-full"));
  }
}
