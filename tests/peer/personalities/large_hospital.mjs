// A large hospital record: no transactions and no batches, no conditions, nobody but its own people creates a Task, a CarePlan or what belongs to them, no
// Subscription, searches only per patient and category (see narrow_search.mjs), 406 with an empty body for what it does not search, and a DocumentReference
// of the type, with an author and an encounter as it wants them:
// {"documentType": "https://hospital.example/document-type|nursing-plan", "authors": ["Practitioner", "PractitionerRole", "Organization"],
//  "conditions": "refused" | "overlooked", "documentUpdates": true, "communication": true}
import { problem } from './common.mjs';
import narrowSearch from './narrow_search.mjs';
import noTransactions from './no_transactions.mjs';
import refusesCreate from './refuses_create.mjs';

const needed = (where, text) => ({ layer: 'hospital', where, text });

export default ({
  documentType = 'https://hospital.example/document-type|nursing-plan', authors = ['Practitioner', 'PractitionerRole', 'Organization'],
  conditions = 'refused', documentUpdates = true, communication = true,
} = {}) => {
  const own = ['Task', 'CarePlan', 'GuidanceResponse', 'DetectedIssue', 'Provenance', 'Subscription', ...(communication ? [] : ['Communication'])];
  const parts = [
    noTransactions({ batch: true }),
    narrowSearch({ needsCategory: ['Observation', 'Condition', 'DocumentReference'], notAcceptable: ['List', 'Device', 'Specimen', 'Task', 'CarePlan', 'GuidanceResponse'] }),
    refusesCreate({ types: own, updates: true }),
    ...(documentUpdates ? [] : [refusesCreate({ types: ['DocumentReference'], status: 405, updates: true })]),
  ];
  const judgeDocument = ({ type, author = [], context = {} }) => {
    const [system, code] = documentType.split('|');
    const issues = [];
    if (!type?.coding?.some((one) => one.system === system && one.code === code)) issues.push(needed('DocumentReference.type', `the type ${documentType} is needed`));
    if (!author.some(({ reference = '' }) => authors.includes(reference.split('/')[0]))) issues.push(needed('DocumentReference.author', `an author of ${authors.join(', ')} is needed`));
    if (!context.encounter?.some(({ reference = '' }) => reference.startsWith('Encounter/'))) issues.push(needed('DocumentReference.context.encounter', 'an Encounter is needed'));
    return issues;
  };
  return {
    refuse: async (request, peer) => {
      for (const part of parts) {
        const answer = await part.refuse?.(request, peer);
        if (answer) return answer;
      }
      const conditional = request.headers?.['if-none-exist'] ?? request.headers?.['if-match'];
      if (conditional && conditions === 'refused') return problem(412, 'not-supported', 'conditions are not supported');
      return undefined;
    },
    alter: ({ headers }) => {
      if (conditions !== 'overlooked') return;
      delete headers['if-match'];
      delete headers['if-none-exist'];
    },
    refuseWrite: (write) => {
      // An update is refused with 405 and a creation allowed where documents cannot be changed.
      if (!documentUpdates && write.type === 'DocumentReference' && write.interaction === 'create') return undefined;
      return parts.map((part) => part.refuseWrite?.(write)).find(Boolean);
    },
    judge: (resource) => (resource.resourceType === 'DocumentReference' ? judgeDocument(resource) : []),
    describe: (statement) => parts.reduce((current, part) => part.describe?.(current) ?? current, statement),
  };
};
