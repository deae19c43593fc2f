"""Start attempts: where each opens and ends, when fuel, light-off and idle came, hangs and fuel cuts."""
