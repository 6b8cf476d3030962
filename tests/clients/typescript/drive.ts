// From the upload to the plan of the rest of a job, with the types that were made of the interface's description.
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.d.ts";

declare const process: { argv: string[] };
type Kept = components["schemas"]["KeptPlan"];

const base = process.argv[2];
const client = createClient<paths>({ baseUrl: base });

function done<T>(answer: { data?: T; error?: unknown; response: Response }): T {
  if (answer.data === undefined) throw new Error(`${answer.response.status}: ${JSON.stringify(answer.error)}`);
  return answer.data;
}

async function planned(plan_id: string): Promise<Kept> {
  for (;;) {
    const plan = done(await client.GET("/v1/plans/{plan_id}", { params: { path: { plan_id } } }));
    if (plan.status === "done") return plan;
    if (plan.status === "failed" || plan.status === "cancelled") throw new Error(JSON.stringify(plan.error));
    await new Promise((again) => setTimeout(again, 200));
  }
}

const described = await (await fetch(`${base}/openapi.json`)).json();
const project: components["schemas"]["Project"] = described.components.schemas.Project.example;

const kept = done(await client.POST("/v1/projects", { body: project }));
const asked = done(
  await client.POST("/v1/projects/{project_id}/plans", {
    params: { path: { project_id: kept.id } },
    body: { staging: "whole" },
  }),
);
const plan = await planned(asked.id);
const order = done(
  await client.GET("/v1/plans/{plan_id}/order.{form}", {
    params: { path: { plan_id: plan.id, form: "pdf" } },
    parseAs: "arrayBuffer",
  }),
) as unknown as ArrayBuffer;
const issued = done(
  await client.POST("/v1/plans/{plan_id}/issue", {
    params: { path: { plan_id: plan.id }, header: { "if-match": '"0"' } },
  }),
);
const told = done(
  await client.POST("/v1/projects/{project_id}/events", {
    params: { path: { project_id: kept.id } },
    body: [{ id: "phone-1-1", at: "2027-02-01T08:00:00", event: "measured", level: "L01", by: "surveyor" }],
  }),
);
const next = done(
  await client.POST("/v1/plans/{plan_id}/replans", { params: { path: { plan_id: plan.id } }, body: {} }),
);
const rest = await planned(next.id);
const missing = await client.GET("/v1/plans/{plan_id}", { params: { path: { plan_id: "0" } } });

console.log(
  JSON.stringify({
    boards: plan.figures?.boards,
    document: new TextDecoder().decode(new Uint8Array(order).slice(0, 5)),
    revision: issued.revision,
    events: told.added,
    replan_of: rest.request.replan_of === plan.id,
    problem: missing.error?.type,
  }),
);
