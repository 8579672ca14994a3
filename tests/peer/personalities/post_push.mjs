// Sends every notification as POST to the endpoint with the resource as body, as some servers do instead of R4's PUT.
export default () => ({
  deliver: (notification) => [notification.form === 'put' ? { ...notification, form: 'post' } : notification],
});
