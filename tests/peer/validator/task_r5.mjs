// R5-safety of Tasks. Source: FHIR R5 StructureDefinition Task, invariant tsk-1: "Task.restriction is only allowed if the Task is
// seeking fulfillment and a focus is specified." R4 has no such rule, so an R4 Task that breaks it is valid today and not after a
// conversion. Only Tasks are judged that are written with restriction, and only where the caller asks (official R4 examples break it).
const taskCode = 'http://hl7.org/fhir/CodeSystem/task-code';

/** Reports (path below the Task, text) where a Task with a restriction is not also valid as R5. */
export function checkTaskR5(task, report) {
  if (task.resourceType !== 'Task' || !task.restriction) return;
  const codings = Array.isArray(task.code?.coding) ? task.code.coding : [];
  if (!codings.some((coding) => coding.system === taskCode && coding.code === 'fulfill')) {
    report('.code', `tsk-1 (R5): restriction needs the coding ${taskCode}|fulfill`);
  }
  if (!task.focus) report('.focus', 'tsk-1 (R5): restriction needs a focus');
}
