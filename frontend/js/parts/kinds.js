// @ts-check
/** The kinds of bike that share a sag target, and the roles of people, in words. */

import { t } from "../words.js";

/** @type {Record<string, string>} */
const NAMES = { motocross: t("motocross"), enduro: t("enduro"), adventure: t("adventure"), street: t("street"), track: t("track") };

export const KINDS = Object.entries(NAMES).map(([value, text]) => ({ value, text }));

/** @param {string} kind */
export const kindName = (kind) => NAMES[kind] ?? kind;

/** @type {Record<string, string>} */
export const ROLES = { technician: t("technician"), manager: t("manager"), owner: t("owner") };
