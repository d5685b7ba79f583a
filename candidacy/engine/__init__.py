"""From outcomes to a standing: the declared decision rules, run on durable-rules or on a direct chainer."""
